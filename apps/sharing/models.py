"""Secret addresses: a light map, a plan, and a calendar of planned steps."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.common.links.secret_links import SecretLink, SecretLinkQuerySet
from apps.common.tokens import hash_token
from apps.planning.models import Plan
from apps.tanks.models import Tank


class ShareLinkQuerySet(SecretLinkQuerySet):
    def open_now(self):
        return super().open_now().filter(tank__removed_at__isnull=True).select_related("tank")


class ShareLink(SecretLink):
    # No page of a tank is made anew for each opening (`tanks/kept_pages`).
    UNSHOWN_FIELDS = frozenset({"openings"})

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
