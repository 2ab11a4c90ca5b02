"""Secret addresses: a light map, a plan, and a calendar of planned steps."""

import datetime as dt
from typing import ClassVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from apps.common.links.secret_links import SecretLink, SecretLinkQuerySet
from apps.common.tokens import hash_token, new_token
from apps.common.validation import VisibleTexts, bounds, bounds_check, too_early
from apps.photics import limits
from apps.planning.models import Plan
from apps.sharing.push_models import PushBrowser
from apps.sharing.reminder_models import ReminderMail
from apps.tanks.models import Tank

__all__ = [
    "CalendarLink", "Comment", "CommentReport", "PlanLink", "PushBrowser", "ReminderMail",
    "ShareLink",
]  # fmt: skip
# So many comments of a link are shown and marked on its map, and one keeper may make so many.
COMMENTS_MOST, COMMENTS_EACH = 52, 20


class LockedLink(SecretLink):
    """A secret link that may ask for a word besides."""

    UNLOCK: ClassVar[str]  # the name of the address that takes the word

    # Hashed as passwords are; blank where the address alone opens it.
    passphrase = models.CharField(max_length=128, blank=True, editable=False)

    class Meta(SecretLink.Meta):
        abstract = True


class ShareLinkQuerySet(SecretLinkQuerySet):
    def open_now(self):
        return super().open_now().filter(tank__removed_at__isnull=True).select_related("tank")


class ShareLink(LockedLink):
    UNLOCK = "shared_unlock"
    # No page of a tank is made anew for each opening (`tanks/kept_pages`).
    UNSHOWN_FIELDS = frozenset({"openings"})

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="share_links")
    show_corals = models.BooleanField("show corals", default=True)
    show_notes = models.BooleanField("show health notes", default=False)
    show_photos = models.BooleanField("show photos", default=False)
    # The day whose light, corals and notes it shows; None for those of the day it is opened.
    as_of = models.DateField("as of", null=True, blank=True)
    may_comment = models.BooleanField("let keepers comment", default=False)
    # How often the page was opened, and nothing about by whom.
    openings = models.PositiveIntegerField(default=0, editable=False)

    objects = ShareLinkQuerySet.as_manager()

    def prolong(self, *, days):
        """Let it open for some days from now on; return whether it does: none that is revoked."""
        self.expires_at = timezone.now() + dt.timedelta(days=days)
        open_still = ShareLink.objects.filter(pk=self.pk, revoked_at=None)
        return bool(open_still.update(expires_at=self.expires_at))

    def moment(self):
        """Return the end of the day it shows, None where that is the day it is opened."""
        if self.as_of is None:
            return None
        return dt.datetime.combine(self.as_of, dt.time.max, self.tank.zone)

    def clean(self):
        errors = too_early(as_of=self.as_of)
        if self.as_of and self.as_of > self.tank.today():
            errors["as_of"] = "This is in the future."
        if errors:
            raise ValidationError(errors)


class CommentQuerySet(models.QuerySet):
    def shown(self):
        """What visitors see, the oldest first: no more than are marked on a map."""
        return self.filter(hidden_at__isnull=True).select_related("author")[:COMMENTS_MOST]

    def new_to_owner(self):
        """What others said that the tank's owner has not read."""
        by_others = self.exclude(author=F("link__tank__owner"))
        return by_others.filter(read_at__isnull=True, hidden_at__isnull=True)


class Comment(VisibleTexts, models.Model):
    """What a keeper says of a point of a shared map; seen by whoever opens that link."""

    link = models.ForeignKey(ShareLink, on_delete=models.CASCADE, related_name="comments")
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="map_comments"
    )
    x_cm = models.FloatField("from the left", validators=bounds(0, limits.TANK_SIDE_MAX_CM))
    y_cm = models.FloatField("from the front", validators=bounds(0, limits.TANK_SIDE_MAX_CM))
    depth_cm = models.FloatField("below surface", validators=bounds(0, limits.TANK_DEPTH_MAX_CM))
    text = models.TextField("comment", max_length=1000)
    created_at = models.DateTimeField(auto_now_add=True)
    # By the tank's owner, who sees it still.
    hidden_at = models.DateTimeField(null=True, blank=True, editable=False)
    # By the tank's owner, on the page that lists it.
    read_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CommentQuerySet.as_manager()

    class Meta:
        ordering = ["created_at", "pk"]
        constraints = [
            bounds_check("comment", "x_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("comment", "y_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("comment", "depth_cm", 0, limits.TANK_DEPTH_MAX_CM),
        ]

    def __str__(self):
        return f"{self.author} on {self.link}"

    @property
    def is_hidden(self) -> bool:
        return self.hidden_at is not None

    def hide(self, is_hidden: bool) -> None:
        """Hide it from all but the tank's owner, or show it again."""
        if is_hidden != self.is_hidden:
            self.hidden_at = timezone.now() if is_hidden else None
            self.save(update_fields=["hidden_at"])

    def is_new_to(self, owner_pk):
        """Return whether another said it, and the tank's owner has not read it."""
        return self.author_id != owner_pk and self.read_at is None and not self.is_hidden

    def clean(self):
        place = {"x_cm": self.x_cm, "y_cm": self.y_cm, "depth_cm": self.depth_cm}
        if None not in place.values():
            errors = self.link.tank.point_errors(**place)
            if errors:
                raise ValidationError(errors)


class CommentReport(models.Model):
    """A keeper's word that a comment should not stand where it does."""

    UNSHOWN = True

    comment = models.ForeignKey(Comment, on_delete=models.CASCADE, related_name="reports")
    reporter = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["comment", "reporter"], name="comment_report_once")
        ]

    def __str__(self):
        return f"{self.reporter} on {self.comment_id}"


class PlanLinkQuerySet(SecretLinkQuerySet):
    def open_now(self):
        standing = Q(plan__tank__isnull=True) | Q(plan__tank__removed_at__isnull=True)
        present = super().open_now().filter(standing, plan__removed_at__isnull=True)
        return present.select_related("plan__tank", "plan__owner")


class PlanLink(LockedLink):
    """A plan for someone without an account."""

    UNLOCK = "shared_plan_unlock"

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="links")

    objects = PlanLinkQuerySet.as_manager()


class CalendarLinkQuerySet(models.QuerySet):
    def renew(self, *, tank, keeper):
        """Make a keeper's link of a tank in the place of any before; return (link, token)."""
        token = new_token()
        link, _ = self.update_or_create(
            tank=tank, keeper=keeper, defaults={"token_hash": hash_token(token)}
        )
        return link, token

    def for_token(self, token):
        """Return the link a token opens, or None once its keeper may not see the tank any more."""
        link = self.select_related("tank", "keeper").filter(token_hash=hash_token(token)).first()
        if link is None or not link.keeper.is_active:
            return None
        return link if Tank.objects.visible_to(link.keeper).filter(pk=link.tank_id) else None


class CalendarLink(models.Model):
    """A keeper's own calendar address of one tank; a new one takes the old one's place."""

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="calendar_links")
    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_links"
    )
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now=True)

    objects = CalendarLinkQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["tank", "keeper"], name="calendar_link_once_a_keeper")
        ]

    def __str__(self):
        return f"calendar of {self.tank} for {self.keeper}"
