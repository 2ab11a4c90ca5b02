"""Surveys and their readings: what was measured, where, and under which light."""

import datetime as dt
import uuid
from typing import Self

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from apps.accounts.models import User
from apps.common.moments import day_text
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import (
    FIRST_MOMENT,
    VisibleTexts,
    bounds,
    bounds_check,
    too_early,
    year_check,
)
from apps.photics import limits
from apps.photics.ground.lengths import CM
from apps.surveys.loan_models import MeterLoan
from apps.surveys.logger_models import LoggedSeries
from apps.surveys.meter_models import ANY_FACTOR, METER_FACTOR, Meter, MeterCheck
from apps.surveys.offer_models import SurveyOffer
from apps.tanks.models import Tank

# Django looks for models here.
__all__ = [
    "LoggedSeries", "Meter", "MeterCheck", "MeterLoan", "PlannedPoint", "Reading", "ReadingEdit",
    "Survey", "SurveyOffer", "SurveyRevision",
]  # fmt: skip

HOURS = (0, limits.DAY_HOURS_MAX)
LEVEL = (limits.LEVEL_MIN_PERCENT, limits.LEVEL_MAX_PERCENT)
PAR = (limits.PAR_MIN_UMOL, limits.PAR_MAX_UMOL)
# What a row may hold: a lux meter's readings are kept in lux.
ANY_VALUE = (0, limits.LUX_MAX)
ANY_SPREAD = (0, limits.LUX_MAX / 2)


class SurveyQuerySet(RemovableQuerySet):
    def visible_to(self, user: User) -> Self:
        return self.present().filter(tank__in=Tank.objects.visible_to(user))

    def newest_first(self) -> Self:
        return self.order_by("-taken_at", "-pk")

    def with_counts(self) -> Self:
        return self.annotate(reading_count=models.Count("readings"))


class Survey(Removable):
    """The readings of one afternoon."""

    FOLLOWED = "id"

    class Switch(models.TextChoices):
        ON = "on", "on"
        OFF = "off", "off"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="surveys")
    taken_at = models.DateTimeField("when")
    meter = models.ForeignKey(
        Meter, null=True, blank=True, on_delete=models.SET_NULL, related_name="surveys"
    )
    # Copied from the meter when the survey is made: changing the meter leaves old maps alone.
    correction_factor = models.FloatField(
        "multiply readings by", default=1.0, validators=bounds(*ANY_FACTOR)
    )
    # Part of the factor above: how this meter misreads this light's colour.
    spectral_factor = models.FloatField(default=1.0, validators=bounds(*METER_FACTOR))
    level_percent = models.FloatField(
        "lights at, % of the day’s peak", default=100.0, validators=bounds(*LEVEL)
    )
    light_note = models.CharField(
        "about the light",
        max_length=200,
        blank=True,
        help_text="Pumps on or off, lid, which channels, hours since lights-on.",
    )
    # The map forgets what was read before: the tank is not the same any more.
    starts_anew = models.BooleanField("start afresh here", default=False)
    pumps = models.CharField(max_length=3, choices=Switch, blank=True)
    lid = models.CharField("lid or screen", max_length=3, choices=Switch, blank=True)
    # What the points were last laid out by, in cm: the form that plans them starts from it.
    plan_asked = models.JSONField(default=dict, blank=True, editable=False)
    hours_on = models.FloatField(
        "hours since lights-on", null=True, blank=True, validators=bounds(*HOURS)
    )
    # The channel that burned alone; such a survey is a part of the light and no map of it all.
    channel = models.CharField("one channel alone", max_length=40, blank=True)
    # {name: percent} of each channel or fixture, where the keeper knows.
    levels = models.JSONField("level of each", default=dict, blank=True)
    notes = models.TextField(max_length=2000, blank=True)
    # Counts saves of the readings, so that two open tabs can't overwrite each other unseen.
    version = models.PositiveIntegerField(default=0, editable=False)
    # Blank once that keeper's account is gone; the survey stays editable.
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        editable=False,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = SurveyQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-pk"]
        indexes = [models.Index(fields=["tank", "taken_at"], name="survey_by_tank")]
        constraints = [
            bounds_check("survey", "correction_factor", *ANY_FACTOR),
            bounds_check("survey", "spectral_factor", *METER_FACTOR),
            bounds_check("survey", "hours_on", *HOURS, null=True),
            bounds_check("survey", "level_percent", *LEVEL),
            year_check("survey", "taken_at", FIRST_MOMENT),
        ]

    def __str__(self) -> str:
        return f"Survey of {day_text(self.day())}"

    def clean(self) -> None:
        if self.taken_at is None:
            return
        if self.taken_at > timezone.now():
            raise ValidationError({"taken_at": "This is in the future. When was it measured?"})
        errors = too_early(taken_at=self.taken_at)
        if errors:
            raise ValidationError(errors)

    def problems_of_return(self) -> list[str]:
        tank = self.tank
        outside = self.readings.filter(
            models.Q(x_cm__gt=tank.length_cm)
            | models.Q(y_cm__gt=tank.width_cm)
            | models.Q(depth_cm__gt=tank.depth_cm)
        ).count()
        problem = "The tank is smaller now, and {} of its readings would lie outside the water."
        return [problem.format(outside)] if outside else []

    @property
    def peak_share(self) -> float:
        """What PAR as read is multiplied by to give PAR at the day's peak [1]."""
        return 100.0 / self.level_percent

    @property
    def to_peak(self) -> float:
        """What a reading is multiplied by to give PAR at the day's peak [1]."""
        return self.correction_factor * self.peak_share

    def day(self) -> dt.date:
        """Return the date of the survey at the tank."""
        return timezone.localdate(self.taken_at, timezone=self.tank.zone)

    def factor_now(self) -> float:
        """Return the factor by what the meter says of that day and the light's colour [1]."""
        return (self.meter.factor_on(self.day()) if self.meter else 1.0) * self.spectral_factor

    def take_meter_factor(self) -> None:
        """Correct the readings as the meter says; with no meter only for the colour."""
        self.correction_factor = self.factor_now()

    def factor_is_stale(self) -> bool:
        """Whether the meter says another factor now than when this survey took it."""
        return self.meter is not None and abs(self.factor_now() / self.correction_factor - 1) > 1e-9

    @property
    def is_in_lux(self) -> bool:
        return self.meter is not None and self.meter.kind == Meter.Kind.LUX

    @property
    def value_max(self) -> float:
        """The highest value its meter may have shown: of PAR, or the lux that PAR would be."""
        return min(PAR[1] / self.correction_factor, ANY_VALUE[1]) if self.is_in_lux else PAR[1]

    def last_revision(self) -> "SurveyRevision | None":
        return self.revisions.order_by("-version").first()


class Reading(models.Model):
    """One value at one point. The value is what the meter showed; PAR is that times the factor."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="readings")
    position = models.PositiveIntegerField()
    x_cm = models.FloatField("from the left end")
    y_cm = models.FloatField("from the front pane")
    depth_cm = models.FloatField("below the surface")
    value_umol = models.FloatField("PAR the meter showed")
    spread_umol = models.FloatField("spread of a burst", null=True, blank=True)
    # Made where the reading is typed: sending it twice stores it once. A reading of a planned
    # point carries that point's id, so that two devices reading it make one reading.
    client_id = models.UUIDField(default=uuid.uuid4, editable=False)
    # Counts the changes of this reading: with the device it orders edits without any clock.
    revision = models.PositiveIntegerField(default=0, editable=False)
    device = models.CharField(max_length=36, blank=True, editable=False)

    class Meta:
        ordering = ["survey", "position"]
        constraints = [
            # Not for the whole table: an undo must not reach into another survey.
            models.UniqueConstraint(fields=["survey", "client_id"], name="reading_once_a_survey"),
            bounds_check("reading", "value_umol", *ANY_VALUE),
            bounds_check("reading", "spread_umol", *ANY_SPREAD, null=True),
            bounds_check("reading", "x_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("reading", "y_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("reading", "depth_cm", 0, limits.TANK_DEPTH_MAX_CM),
        ]
        # Each post of the offline queue asks of what survey a mark is, inside the write lock.
        indexes = [models.Index(fields=["client_id"], name="reading_by_mark")]

    def __str__(self) -> str:
        return f"{self.value_umol:g} at {self.x_cm:g}, {self.y_cm:g}, {self.depth_cm:g}"

    @property
    def peak_umol(self) -> float:
        """PAR at the day's peak [umol m-2 s-1]."""
        return self.value_umol * self.survey.to_peak

    @property
    def par_umol(self) -> float:
        """PAR after the meter's correction [umol m-2 s-1]."""
        return self.value_umol * self.survey.correction_factor

    def problems(self, *, unit: str = CM) -> dict[str, str]:
        """Return {field: sentence} for what is out of bounds; lengths in `unit`."""
        errors = self.survey.tank.point_errors(
            x_cm=self.x_cm, y_cm=self.y_cm, depth_cm=self.depth_cm, unit=unit
        )
        most, what = self.survey.value_max, "Lux" if self.survey.is_in_lux else "PAR"
        if self.value_umol is not None and not PAR[0] <= self.value_umol <= most:
            errors["value_umol"] = f"{what} is between {PAR[0]:g} and {most:.6g}."
        if self.spread_umol is not None and not 0 <= self.spread_umol <= most / 2:
            errors["spread_umol"] = f"A spread is between 0 and {most / 2:.6g}."
        return errors

    def clean(self) -> None:
        errors = self.problems()
        if errors:
            raise ValidationError(errors)


class SurveyRevision(models.Model):
    """The readings as they stood before a save: what undo brings back."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="revisions")
    version = models.PositiveIntegerField()
    rows = models.JSONField()
    replaced_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    replaced_at = models.DateTimeField(auto_now_add=True)
    # Blank for a save of the table. A device's run of edits keeps what stood before its first.
    device = models.CharField(max_length=36, blank=True)

    class Meta:
        ordering = ["survey", "version"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "version"], name="revision_once_a_version")
        ]

    def __str__(self) -> str:
        return f"{self.survey} before save {self.version + 1}"


class ReadingEdit(models.Model):
    """One value as a device kept it. Every edit stays, also when another one stands now."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="edits")
    # Made on the device: sent twice, it is stored once.
    client_id = models.UUIDField(unique=True)
    # The client id of the reading it is about.
    point = models.UUIDField()
    device = models.CharField(max_length=36)
    sequence = models.PositiveIntegerField()
    revision = models.PositiveIntegerField()
    # What was kept: the columns of a reading, or nothing when it was taken back.
    row = models.JSONField(null=True)
    # The single values of a burst, as the meter showed them.
    burst = models.JSONField(default=list, blank=True)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    received_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["survey", "pk"]
        indexes = [models.Index(fields=["survey", "point"], name="edit_by_point")]

    def __str__(self) -> str:
        return f"edit {self.sequence} of {self.device}"


class PlannedPoint(VisibleTexts, models.Model):
    """A place where the sensor is to be held: a row of the survey that has no value yet."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="planned_points")
    number = models.PositiveIntegerField()
    x_cm = models.FloatField("from the left end")
    y_cm = models.FloatField("from the front pane")
    depth_cm = models.FloatField("below the surface")
    # What the point is for, such as a coral's name.
    words = models.CharField(max_length=80, blank=True)
    client_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    class Meta:
        ordering = ["survey", "number"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "number"], name="planned_once_a_number"),
            bounds_check("planned_point", "x_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("planned_point", "y_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("planned_point", "depth_cm", 0, limits.TANK_DEPTH_MAX_CM),
        ]

    def __str__(self) -> str:
        return f"point {self.number} at {self.x_cm:g}, {self.y_cm:g}, {self.depth_cm:g}"
