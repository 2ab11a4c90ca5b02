"""Clubs of keepers: who belongs to one, who looks after it, and the links by which one joins.

They lie below tanks, so that tanks and meters can be shown or lent to a club.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models

from apps.accounts.models import User
from apps.common.links.secret_links import SecretLink, SecretLinkQuerySet
from apps.common.validation import VisibleTexts


class ClubQuerySet(models.QuerySet):
    def open_now(self) -> ClubQuerySet:
        return self.filter(closed_at__isnull=True)

    def visible_to(self, user: User) -> ClubQuerySet:
        """Clubs a keeper belongs to; nobody else learns that there is one."""
        mine = Membership.objects.filter(user_id=user.pk)
        return self.open_now().filter(pk__in=mine.values("club"))

    def led_by(self, user: User) -> ClubQuerySet:
        """Clubs a keeper is an officer of."""
        officers = Membership.objects.filter(user_id=user.pk, role=Membership.Role.OFFICER)
        return self.open_now().filter(pk__in=officers.values("club"))


class Club(VisibleTexts, models.Model):
    # No page of a tank that is kept shows clubs or who is in them (`tanks/kept_pages`).
    UNSHOWN = True

    name = models.CharField(max_length=80)
    created_at = models.DateTimeField(auto_now_add=True)
    # Set when its last officer closed it. It is gone for all; surveys still name its meters.
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = ClubQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class MembershipQuerySet(models.QuerySet):
    def officers(self) -> MembershipQuerySet:
        return self.filter(role=Membership.Role.OFFICER)


class Membership(models.Model):
    """A keeper's place in a club."""

    UNSHOWN = True

    class Role(models.TextChoices):
        OFFICER = "officer", "officer: looks after the club"
        MEMBER = "member", "member"

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="memberships")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="club_memberships"
    )
    role = models.CharField(max_length=7, choices=Role, default=Role.MEMBER)
    joined_at = models.DateTimeField(auto_now_add=True)

    objects = MembershipQuerySet.as_manager()

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

    @property
    def is_officer(self) -> bool:
        return self.role == self.Role.OFFICER


class Block(models.Model):
    """A keeper whom no link of a club lets in until an officer lifts it."""

    UNSHOWN = True

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="blocks")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="club_blocks"
    )
    blocked_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-blocked_at", "-pk"]
        constraints = [models.UniqueConstraint(fields=["club", "user"], name="block_once_a_club")]

    def __str__(self) -> str:
        return f"{self.user} blocked from {self.club}"


class ClubLinkQuerySet(SecretLinkQuerySet):
    def open_now(self) -> ClubLinkQuerySet:
        """Links that let one in: of an open club that somebody looks after."""
        led = Membership.objects.officers().values("club")
        present = super().open_now().filter(club__closed_at__isnull=True, club__in=led)
        return present.select_related("club", "created_by")


class ClubLink(SecretLink):
    """An address by which any number of keepers may join a club, until its last day."""

    UNSHOWN = True

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="links")

    objects = ClubLinkQuerySet.as_manager()
