"""Meters: what a keeper measures with, and what its readings are multiplied by."""

import datetime as dt
from typing import Self

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from apps.accounts.models import User
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check, too_early, year_check
from apps.photics import limits

METER_FACTOR = (limits.METER_FACTOR_MIN, limits.METER_FACTOR_MAX)
# Of any meter; the tighter bounds of a meter that reads PAR are in Meter.clean().
ANY_FACTOR = (limits.LUX_FACTOR_MIN, limits.METER_FACTOR_MAX)
IMMERSION = (limits.IMMERSION_MIN, limits.IMMERSION_MAX)
UNCERTAINTY = (0.0, limits.METER_UNCERTAINTY_MAX_PERCENT)
# House rule: sensors drift by a few percent a year.
CHECK_GOOD_FOR = dt.timedelta(days=365)


class MeterQuerySet(RemovableQuerySet):
    def owned_by(self, user: User) -> Self:
        return self.present().filter(owner=user)


class Meter(Removable):
    class Kind(models.TextChoices):
        QUANTUM = "quantum", "PAR (quantum) sensor"
        LUX = "lux", "lux meter: an estimate only, it depends on the spectrum"
        OTHER = "other", "other"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="meters"
    )
    label = models.CharField(max_length=80)
    kind = models.CharField(max_length=7, choices=Kind, default=Kind.QUANTUM)
    correction_factor = models.FloatField(
        "multiply readings by",
        default=1.0,
        validators=bounds(*ANY_FACTOR),
        help_text="1 if the meter corrects for water; a sensor calibrated in air reads low in it.",
    )
    immersion_factor = models.FloatField(default=1.0, validators=bounds(*IMMERSION))
    # The meter multiplies by the immersion factor itself, so that we must not once more.
    corrects_for_water = models.BooleanField(default=False)
    # One standard deviation of its whole scale, as its maker or a check states it.
    uncertainty_percent = models.FloatField(
        "scale may be off by, %", null=True, blank=True, validators=bounds(*UNCERTAINTY)
    )
    checked_on = models.DateField("last checked on", null=True, blank=True)

    objects = MeterQuerySet.as_manager()

    class Meta:
        ordering = ["label", "pk"]
        constraints = [
            bounds_check("meter", "correction_factor", *ANY_FACTOR),
            bounds_check("meter", "immersion_factor", *IMMERSION),
            bounds_check("meter", "uncertainty_percent", *UNCERTAINTY, null=True),
            year_check("meter", "checked_on", null=True),
        ]

    def __str__(self) -> str:
        return self.label

    def clean(self) -> None:
        errors = too_early(checked_on=self.checked_on)
        # A meter belongs to no tank: tomorrow may have come where the keeper lives.
        if self.checked_on and self.checked_on > timezone.localdate() + dt.timedelta(days=1):
            errors["checked_on"] = "This is in the future."
        low, high = METER_FACTOR
        factor, reads_lux = self.correction_factor, self.kind == self.Kind.LUX
        if factor is not None and not reads_lux and not low <= factor <= high:
            errors["correction_factor"] = f"Between {low:g} and {high:g}, please."
        if errors:
            raise ValidationError(errors)

    def total_factor(self) -> float:
        """Return what a reading under water is multiplied by [1]."""
        water = 1.0 if self.corrects_for_water else self.immersion_factor
        return self.correction_factor * water

    def check_caution(self, day: dt.date) -> str:
        """Say plainly how old the last check was on a day; empty while it is fresh."""
        if self.checked_on is None:
            return "Nobody noted when this meter was last checked against another."
        if day - self.checked_on <= CHECK_GOOD_FOR:
            return ""
        return (
            f"This meter was last checked on {self.checked_on:%-d %b %Y}, more than a year before. "
            "Sensors drift: check it against another one."
        )
