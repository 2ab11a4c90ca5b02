"""Rows by which keepers let a club see, copy or count what is theirs, until they take it back."""

from typing import Self

from django.db import models
from django.db.models import F

from apps.accounts.models import User
from apps.clubs.models import Club


class SharedRowsQuerySet(models.QuerySet):
    """Rows with a `club`, and a way to what is shared, which has an owner and may be deleted."""

    # That way, as a lookup names it.
    shared = ""

    def in_club(self, club: Club) -> Self:
        """The rows that count: of something present whose owner is in the open club."""
        stands = {
            "club__memberships__user": F(f"{self.shared}__owner"),
            f"{self.shared}__removed_at__isnull": True,
        }
        return self.filter(club=club, club__closed_at__isnull=True, **stands)

    def seen_by(self, user: User, club: Club) -> Self:
        """The rows a member reads; none for anyone else."""
        return self.in_club(club) if Club.objects.visible_to(user).contains(club) else self.none()
