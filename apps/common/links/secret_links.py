"""Secret links: an address that opens something for a while, until it is revoked.

Only a fingerprint of the address is kept (`tokens.py`); what it opens, an app above adds.
"""

import datetime as dt
from typing import Self

from django.conf import settings
from django.db import models
from django.utils import timezone

from apps.common.tokens import hash_token, new_token
from apps.common.validation import VisibleTexts


class SecretLinkQuerySet(models.QuerySet):
    def open_now(self) -> Self:
        """Links that still open: not revoked, not past their day, what they show not taken away."""
        return self.filter(revoked_at__isnull=True, expires_at__gt=timezone.now())

    def for_token(self, token: str) -> "SecretLink | None":
        """Return the link a token opens, or None."""
        # There is one at most, so no order is worked out; a page that is kept asks no more of it.
        named = self.open_now().filter(token_hash=hash_token(token))
        return next(iter(named.order_by().select_related(None)), None)


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

    def __str__(self) -> str:
        return self.label or f"link {self.pk}"

    def renew_token(self) -> str:
        """Set a new token and return it: the only moment it is known."""
        token = new_token()
        self.token_hash = hash_token(token)
        return token

    def is_open(self) -> bool:
        return self.revoked_at is None and self.expires_at > timezone.now()

    def state(self) -> tuple[str, dt.datetime]:
        """Return whether it opens, in a word, and the moment of it: of its end, come or to come."""
        if self.revoked_at is not None:
            return "Revoked", self.revoked_at
        return ("Opens until" if self.is_open() else "Ran out"), self.expires_at

    def revoke(self) -> None:
        """Close the link for good; one already revoked keeps its first moment."""
        if self.revoked_at is None:
            self.revoked_at = timezone.now()
            self.save(update_fields=["revoked_at"])
