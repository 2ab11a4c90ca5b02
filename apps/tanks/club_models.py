"""Tanks that their owners show to a club: read only, by its members, until they take it back."""

from django.db import models

from apps.clubs.models import Club
from apps.clubs.shared_rows import SharedRowsQuerySet


class ShownTankQuerySet(SharedRowsQuerySet):
    shared = "tank"

    def in_club(self, club):
        return super().in_club(club).select_related("tank__owner")


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
