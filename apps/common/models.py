"""The one table of this app: which forms were sent already."""

from django.conf import settings
from django.db import models


class SentForm(models.Model):
    """A form that was taken, and where its keeper was led. See `once.py`."""

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

    def __str__(self):
        return f"form {self.mark} of {self.keeper}"
