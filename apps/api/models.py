"""What is known of a token beside the token itself: whose program it is for, and what it may."""

import datetime as dt

from django.db import models
from django.utils import timezone
from knox.models import AuthToken

from apps.common.validation import VisibleTexts

# Looked at by people: to the minute is near enough, and spares a write a call.
USED_EVERY = dt.timedelta(minutes=1)


class TokenCard(VisibleTexts, models.Model):
    """The name, scope and last use of one token; a token without a card may do all."""

    UNSHOWN = True

    class Scope(models.TextChoices):
        READ = "read", "read only"
        SHARE = "share", "read, and let others look"
        WRITE = "write", "read and write"

    token = models.OneToOneField(
        AuthToken, on_delete=models.CASCADE, primary_key=True, related_name="card"
    )
    name = models.CharField(max_length=60, help_text="Which program it is for.")
    scope = models.CharField("it may", max_length=5, choices=Scope, default=Scope.READ)
    last_used_at = models.DateTimeField(null=True, editable=False)

    def __str__(self) -> str:
        return self.name

    def note_use(self) -> None:
        """Remember that it was used just now."""
        now = timezone.now()
        if self.last_used_at is None or now - self.last_used_at >= USED_EVERY:
            TokenCard.objects.filter(pk=self.pk).update(last_used_at=now)
