"""Clubs of keepers: who belongs to one, and who looks after it.

They lie below tanks, so that tanks, meters and libraries can be lent or shown to a club.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models

from apps.accounts.models import User
from apps.common.validation import VisibleTexts


class ClubQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> ClubQuerySet:
        """Clubs a keeper belongs to; nobody else learns that there is one."""
        return self.filter(pk__in=Membership.objects.filter(user_id=user.pk).values("club"))

    def led_by(self, user: User) -> ClubQuerySet:
        """Clubs a keeper is an officer of."""
        officers = Membership.objects.filter(user_id=user.pk, role=Membership.Role.OFFICER)
        return self.filter(pk__in=officers.values("club"))


class Club(VisibleTexts, models.Model):
    name = models.CharField(max_length=80)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = ClubQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """A keeper's place in a club."""

    class Role(models.TextChoices):
        OFFICER = "officer", "officer: looks after the club"
        MEMBER = "member", "member"

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="memberships")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="club_memberships"
    )
    role = models.CharField(max_length=7, choices=Role, default=Role.MEMBER)
    joined_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["joined_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["club", "user"], name="membership_once_a_club"),
            models.CheckConstraint(
                condition=models.Q(role__in=["officer", "member"]), name="membership_role_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} in {self.club}: {self.role}"
