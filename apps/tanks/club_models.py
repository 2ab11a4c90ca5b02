"""Tanks that their owners show to a club: read only, by its members, until they take it back."""

from django.db import models
from django.db.models import F

from apps.clubs.models import Club


class ShownTankQuerySet(models.QuerySet):
    def in_club(self, club):
        """The showings that count: of a present tank whose owner is in the open club."""
        return self.filter(
            club=club,
            club__closed_at__isnull=True,
            club__memberships__user=F("tank__owner"),
            tank__removed_at__isnull=True,
        ).select_related("tank__owner")

    def seen_by(self, user, club):
        """The showings a member reads; none for anyone else."""
        return self.in_club(club) if Club.objects.visible_to(user).contains(club) else self.none()


class ShownTank(models.Model):
    """A tank whose light map the members of a club may read, and its corals if so chosen."""

    # No page of a tank that is kept shows it (`kept_pages`).
    UNSHOWN = True

    tank = models.ForeignKey("tanks.Tank", on_delete=models.CASCADE, related_name="showings")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")
    shows_corals = models.BooleanField(default=False)
    shown_at = models.DateTimeField(auto_now_add=True)

    objects = ShownTankQuerySet.as_manager()

    class Meta:
        ordering = ["tank__name", "pk"]
        constraints = [models.UniqueConstraint(fields=["tank", "club"], name="shown_once_a_club")]

    def __str__(self):
        return f"The map of {self.tank}, which you show"
