"""Secret addresses: a light map, a plan, and a calendar of planned steps."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from apps.common.tokens import hash_token, new_token
from apps.common.validation import VisibleTexts
from apps.planning.models import Plan
from apps.tanks.models import Tank


class SecretLinkQuerySet(models.QuerySet):
    def open_now(self):
        """Links that still open: not revoked, not past their day, what they show not taken away."""
        return self.filter(revoked_at__isnull=True, expires_at__gt=timezone.now())

    def for_token(self, token):
        """Return the link a token opens, or None."""
        return self.open_now().filter(token_hash=hash_token(token)).first()


class SecretLink(VisibleTexts, models.Model):
    """An address that opens something for a while without an account, until it is revoked."""

    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    label = models.CharField("who is it for", max_length=80, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField("opens until")
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        abstract = True
        ordering = ["-created_at"]

    def __str__(self):
        return self.label or f"link {self.pk}"

    def renew_token(self):
        """Set a new token and return it: the only moment it is known."""
        token = new_token()
        self.token_hash = hash_token(token)
        return token

    def is_open(self):
        return self.revoked_at is None and self.expires_at > timezone.now()

    def state(self):
        """Return whether it opens, in a word, and the moment of it: of its end, come or to come."""
        if self.revoked_at is not None:
            return "Revoked", self.revoked_at
        return ("Opens until" if self.is_open() else "Ran out"), self.expires_at

    def revoke(self):
        """Close the link for good; one already revoked keeps its first moment."""
        if self.revoked_at is None:
            self.revoked_at = timezone.now()
            self.save(update_fields=["revoked_at"])


class ShareLinkQuerySet(SecretLinkQuerySet):
    def open_now(self):
        return super().open_now().filter(tank__removed_at__isnull=True).select_related("tank")


class ShareLink(SecretLink):
    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="share_links")
    show_corals = models.BooleanField("show corals", default=True)
    show_notes = models.BooleanField("show health notes", default=False)
    show_photos = models.BooleanField("show photos", default=False)
    # Hashed as passwords are; blank where the address alone opens it.
    passphrase = models.CharField(max_length=128, blank=True, editable=False)
    # How often the page was opened, and nothing about by whom.
    openings = models.PositiveIntegerField(default=0, editable=False)

    objects = ShareLinkQuerySet.as_manager()


class PlanLinkQuerySet(SecretLinkQuerySet):
    def open_now(self):
        standing = Q(plan__tank__isnull=True) | Q(plan__tank__removed_at__isnull=True)
        present = super().open_now().filter(standing, plan__removed_at__isnull=True)
        return present.select_related("plan__tank", "plan__owner")


class PlanLink(SecretLink):
    """A plan for someone without an account."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="links")

    objects = PlanLinkQuerySet.as_manager()


class CalendarLinkQuerySet(models.QuerySet):
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
