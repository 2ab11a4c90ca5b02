"""Lamps of a keeper's library that they offer to a club: its members may copy each."""

from typing import Self

from django.db import models
from django.db.models import F

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.lighting.fixture_models import Fixture


class OfferedFixtureQuerySet(models.QuerySet):
    def in_club(self, club: Club) -> Self:
        """The offers that count: of a present lamp whose keeper is in the open club."""
        return self.filter(
            club=club,
            club__closed_at__isnull=True,
            club__memberships__user=F("fixture__owner"),
            fixture__removed_at__isnull=True,
        ).select_related("fixture__owner", "fixture__photometric_file")

    def seen_by(self, user: User, club: Club) -> Self:
        """The offers a member reads; none for anyone else."""
        return self.in_club(club) if Club.objects.visible_to(user).contains(club) else self.none()


class OfferedFixture(models.Model):
    """A lamp that a club may copy, for as long as its keeper offers it."""

    # No page of a tank shows it (`tanks/kept_pages`).
    UNSHOWN = True

    fixture = models.ForeignKey(Fixture, on_delete=models.CASCADE, related_name="offers")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")
    offered_at = models.DateTimeField(auto_now_add=True)

    objects = OfferedFixtureQuerySet.as_manager()

    class Meta:
        ordering = ["fixture__name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["fixture", "club"], name="offered_once_a_club")
        ]

    def __str__(self) -> str:
        return f"The lamp {self.fixture}, which you offer"
