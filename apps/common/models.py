"""What was sent already: forms of pages, and requests of programs."""

from django.conf import settings
from django.db import models


class SentForm(models.Model):
    """A form that was taken, and where its keeper was led. See `idempotency.py`."""

    # No page of a tank shows it (`tanks/kept_pages`).
    UNSHOWN = True

    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="sent_forms"
    )
    mark = models.CharField(max_length=32)
    # Fingerprint of the address and of all that was sent.
    content = models.CharField(max_length=64)
    led_to = models.TextField(blank=True)
    sent_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["keeper", "mark", "content"], name="form_sent_once"),
        ]

    def __str__(self) -> str:
        return f"form {self.mark} of {self.keeper}"


class SentRequest(models.Model):
    """A program's request that made a row, and what it was answered: kept by the key it gave."""

    UNSHOWN = True

    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="sent_requests"
    )
    # Fingerprints of the key, and of the address and all that was sent.
    key = models.CharField(max_length=64)
    content = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.TextField(blank=True)
    sent_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["keeper", "key"], name="request_sent_once"),
        ]

    def __str__(self) -> str:
        return f"request of {self.keeper} at {self.sent_at}"
