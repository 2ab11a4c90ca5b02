"""Who has a club's meter, and who waits for it."""

import datetime as dt
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.surveys.meter_models import Meter


class MeterLoanQuerySet(models.QuerySet):
    def waiting(self) -> Self:
        """Those who asked for it, the first one first."""
        return self.filter(since__isnull=True).order_by("queued_at", "pk")

    def held(self) -> Self:
        return self.filter(since__isnull=False, ended_on__isnull=True)

    def over(self) -> Self:
        return self.filter(ended_on__isnull=False).order_by("-ended_on", "-pk")


class MeterLoan(models.Model):
    """A member's turn with a club's meter: asked for, then held, then over."""

    # No page of a tank shows it (`tanks/kept_pages`).
    UNSHOWN = True

    meter = models.ForeignKey(Meter, on_delete=models.CASCADE, related_name="loans")
    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="meter_loans"
    )
    queued_at = models.DateTimeField(auto_now_add=True)
    # Blank while they wait for it.
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)
    # Blank until they handed it on.
    ended_on = models.DateField(null=True, blank=True)

    objects = MeterLoanQuerySet.as_manager()

    class Meta:
        ordering = ["queued_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["meter", "keeper"],
                condition=Q(ended_on__isnull=True),
                name="loan_one_turn_a_keeper",
            ),
            models.UniqueConstraint(
                fields=["meter"],
                condition=Q(since__isnull=False, ended_on__isnull=True),
                name="loan_one_holder",
            ),
        ]

    def __str__(self) -> str:
        return f"The turn with {self.meter.label}"

    def is_late(self, day: dt.date) -> bool:
        """Whether it should have been handed on before a day."""
        return self.ended_on is None and self.until is not None and self.until < day
