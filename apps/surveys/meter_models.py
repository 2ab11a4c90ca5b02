"""Meters: what a keeper measures with, and what its readings are multiplied by."""

import datetime as dt
import math
from functools import cached_property
from typing import Any, Self

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check, too_early, year_check
from apps.photics import limits
from apps.photics.day.meter_scale import ratio_with_deviation

METER_FACTOR = (limits.METER_FACTOR_MIN, limits.METER_FACTOR_MAX)
# Of any meter; the tighter bounds of a meter that reads PAR are in Meter.clean().
ANY_FACTOR = (limits.LUX_FACTOR_MIN, limits.METER_FACTOR_MAX)
IMMERSION = (limits.IMMERSION_MIN, limits.IMMERSION_MAX)
UNCERTAINTY = (0.0, limits.METER_UNCERTAINTY_MAX_PERCENT)
PAIRS_MOST = 200
# House rule: sensors drift by a few percent a year.
CHECK_GOOD_FOR = dt.timedelta(days=365)


class MeterQuerySet(RemovableQuerySet):
    def owned_by(self, user: User) -> Self:
        return self.present().filter(owner=user, club=None)

    def kept_by(self, user: User) -> Self:
        """Meters, deleted or not, that a user looks after: their own, and those of clubs they lead.

        A club's meter is its officers', whoever of them made it.
        """
        own = models.Q(owner=user, club=None)
        return self.filter(own | models.Q(club__in=Club.objects.led_by(user)))

    def kept_with(self, meter: "Meter") -> Self:
        """The meters of the same keeper, or of the same club, itself included."""
        if meter.club_id:
            return self.present().filter(club=meter.club_id)
        return self.owned_by(meter.owner)

    def usable_by(self, user: User) -> Self:
        """Meters a user may name on a survey: their own, and those of clubs they are in."""
        own = models.Q(owner=user, club=None)
        return self.present().filter(own | models.Q(club__in=Club.objects.visible_to(user)))


class Meter(Removable):
    class Kind(models.TextChoices):
        QUANTUM = "quantum", "PAR (quantum) sensor"
        LUX = "lux", "lux meter: an estimate only, it depends on the spectrum"
        OTHER = "other", "other"

    class UncertaintyFrom(models.TextChoices):
        USUAL = "usual", "usual for this kind, not measured"
        STATED = "stated", "its maker or a check states it"

    FOLLOWED, KEEPER, KEEPER_UNLESS = "id", "owner", "club"
    # A zip of a tank is brought in where there is no such club.
    STAYS_HERE = ("club",)

    # How far the scale of a kind is usually off, one standard deviation [%]: typical of the trade,
    # no published source.
    USUAL_PERCENT = {Kind.QUANTUM: 5.0, Kind.LUX: 15.0}

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="meters"
    )
    # Where it is a club's, the officer in whose name it stands.
    club = models.ForeignKey(
        Club, null=True, blank=True, editable=False, on_delete=models.SET_NULL, related_name="+"
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
    uncertainty_from = models.CharField(
        "where that is from", max_length=6, choices=UncertaintyFrom, blank=True
    )
    checked_on = models.DateField("last checked on", null=True, blank=True)
    # Each check gives the factor from its day on, and surveys take that of their day.
    follows_checks = models.BooleanField(default=False)

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

    def save(self, *args: Any, **kwargs: Any) -> None:
        origin, own = self.origin(), kwargs.get("update_fields")
        if own is not None and origin != self.uncertainty_from:
            kwargs["update_fields"] = {*own, "uncertainty_from"}
        self.uncertainty_from = origin
        super().save(*args, **kwargs)

    def origin(self) -> str:
        """Return where the uncertainty is from: only the usual one of its kind is called so."""
        if self.uncertainty_percent is None:
            return ""
        is_usual = self.uncertainty_from == self.UncertaintyFrom.USUAL
        if is_usual and self.uncertainty_percent == self.USUAL_PERCENT.get(self.kind):
            return str(self.UncertaintyFrom.USUAL)
        return str(self.UncertaintyFrom.STATED)

    def is_kept_with(self, other: "Meter") -> bool:
        """Whether two meters are one keeper's own, or one club's."""
        if self.club_id or other.club_id:
            return self.club_id == other.club_id
        return self.owner_id == other.owner_id

    def total_factor(self) -> float:
        """Return what a reading under water is multiplied by [1]."""
        water = 1.0 if self.corrects_for_water else self.immersion_factor
        return self.correction_factor * water

    @cached_property
    def dated_checks(self) -> list["MeterCheck"]:
        """The checks that give a factor from their day on, the first one first."""
        if not self.follows_checks or self.pk is None:
            return []
        given = self.checks.present().filter(factor__isnull=False)
        return list(given.order_by("checked_on", "pk"))

    def check_on(self, day: dt.date) -> "MeterCheck | None":
        """Return the check whose factor holds on a day; None where the stated one does."""
        before = [check for check in self.dated_checks if check.checked_on <= day]
        return before[-1] if before else None

    def factor_on(self, day: dt.date) -> float:
        """Return what a reading of a day is multiplied by, but for the light's colour [1]."""
        check = self.check_on(day)
        return check.factor if check and check.factor else self.total_factor()

    def checked_by(self, day: dt.date) -> dt.date | None:
        """Return the day of its last check up to a day, by its dated history where it has one."""
        check = self.check_on(day)
        return check.checked_on if check else None if self.dated_checks else self.checked_on

    def check_caution(self, day: dt.date) -> str:
        """Say plainly how old the last check was on a day; empty while it is fresh."""
        checked_on = self.checked_by(day)
        if checked_on is None:
            return "No check against another meter is noted."
        if day - checked_on <= CHECK_GOOD_FOR:
            return ""
        return (
            f"Last checked against another meter on {checked_on:%-d %b %Y}, over a year "
            "before. Sensors drift."
        )


class MeterCheckQuerySet(RemovableQuerySet):
    def owned_by(self, user: User) -> Self:
        return self.present().filter(meter__owner=user)


class MeterCheck(Removable):
    """What a meter showed beside a reference, or beside another of the keeper's meters."""

    FOLLOWED, KEEPER, KEEPER_UNLESS = "id", "meter__owner", "meter__club"

    meter = models.ForeignKey(Meter, on_delete=models.CASCADE, related_name="checks")
    other = models.ForeignKey(
        Meter,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="+",
        verbose_name="your other meter",
    )
    reference = models.CharField("or a reference", max_length=80, blank=True)
    # One standard deviation of the reference's own scale.
    reference_percent = models.FloatField(
        "the reference may be off by, %", null=True, blank=True, validators=bounds(*UNCERTAINTY)
    )
    checked_on = models.DateField("when")
    # [[this meter, the other], ...] as both showed at the same places under the same light.
    pairs = models.JSONField("what both showed", default=list)
    # What readings are multiplied by from that day on, water included [1]; blank where its meter
    # follows no checks. Worked out from the rest (`meters/following.py`).
    factor = models.FloatField(null=True, blank=True, editable=False)

    objects = MeterCheckQuerySet.as_manager()

    class Meta:
        ordering = ["-checked_on", "-pk"]
        constraints = [
            bounds_check("meter_check", "reference_percent", *UNCERTAINTY, null=True),
            year_check("meter_check", "checked_on"),
        ]

    def __str__(self) -> str:
        return f"check of {self.meter} against {self.against}"

    @property
    def against(self) -> str:
        """What it was held against."""
        return self.other.label if self.other else self.reference

    def clean(self) -> None:
        errors = too_early(checked_on=self.checked_on)
        if self.checked_on and self.checked_on > timezone.localdate() + dt.timedelta(days=1):
            errors["checked_on"] = "This is in the future."
        if bool(self.other) == bool(self.reference):
            errors["reference"] = "Choose your other meter or name a reference, one of the two."
        elif self.reference and self.reference_percent is None:
            errors["reference_percent"] = "How far may the reference itself be off?"
        if self.other and (self.other == self.meter or not self.other.is_kept_with(self.meter)):
            errors["other"] = "Choose another one of your meters."
        if problem := pairs_problem(self.pairs):
            errors["pairs"] = problem
        if errors:
            raise ValidationError(errors)
        if not self.reference:
            self.reference_percent = None

    def log_ratio(self) -> tuple[float, float]:
        """Return the log of the other's values over this meter's, and its deviation [log]."""
        own, other = zip(*self.pairs, strict=True)
        return ratio_with_deviation(own, other)

    @property
    def ratio(self) -> float:
        """What the other showed for 1 of this meter [1]."""
        return math.exp(self.log_ratio()[0])


def pairs_problem(pairs: object) -> str:
    """Return the sentence on what is wrong with the pairs of a check, "" for sound ones."""
    if not isinstance(pairs, list) or not 1 <= len(pairs) <= PAIRS_MOST:
        return f"One to {PAIRS_MOST} pairs of readings, please."
    for number, pair in enumerate(pairs, start=1):
        sound = isinstance(pair, list | tuple) and len(pair) == 2 and all(map(is_reading, pair))
        if not sound:
            return f"Pair {number} is not two readings above zero, such as “182 190”."
    return ""


def is_reading(value: object) -> bool:
    """Whether a value is one that a meter may show and that a ratio may be made of."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    return 0 < value <= limits.LUX_MAX
