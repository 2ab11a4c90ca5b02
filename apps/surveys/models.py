"""Meters, surveys and readings: what was measured, with what, under which light."""

import datetime as dt
import uuid

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

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
from apps.tanks.models import Tank

METER_FACTOR = (limits.METER_FACTOR_MIN, limits.METER_FACTOR_MAX)
# Of any meter; the tighter bounds of a meter that reads PAR are in Meter.clean().
ANY_FACTOR = (limits.LUX_FACTOR_MIN, limits.METER_FACTOR_MAX)
IMMERSION = (limits.IMMERSION_MIN, limits.IMMERSION_MAX)
HOURS = (0, limits.DAY_HOURS_MAX)
LEVEL = (limits.LEVEL_MIN_PERCENT, limits.LEVEL_MAX_PERCENT)
PAR = (limits.PAR_MIN_UMOL, limits.PAR_MAX_UMOL)
# What a row may hold: a lux meter's readings are kept in lux.
ANY_VALUE = (0, limits.LUX_MAX)
ANY_SPREAD = (0, limits.LUX_MAX / 2)
# House rule: sensors drift by a few percent a year.
CHECK_GOOD_FOR = dt.timedelta(days=365)


class MeterQuerySet(RemovableQuerySet):
    def owned_by(self, user):
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
    checked_on = models.DateField("last checked on", null=True, blank=True)

    objects = MeterQuerySet.as_manager()

    class Meta:
        ordering = ["label", "pk"]
        constraints = [
            bounds_check("meter", "correction_factor", *ANY_FACTOR),
            bounds_check("meter", "immersion_factor", *IMMERSION),
            year_check("meter", "checked_on", null=True),
        ]

    def __str__(self):
        return self.label

    def clean(self):
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

    def total_factor(self):
        """Return what a reading under water is multiplied by [1]."""
        water = 1.0 if self.corrects_for_water else self.immersion_factor
        return self.correction_factor * water

    def check_told(self, day):
        """Say plainly how old the last check was on a day; empty while it is fresh."""
        if self.checked_on is None:
            return "Nobody noted when this meter was last checked against another."
        if day - self.checked_on <= CHECK_GOOD_FOR:
            return ""
        return (
            f"This meter was last checked on {self.checked_on:%-d %b %Y}, more than a year before. "
            "Sensors drift: check it against another one."
        )


class SurveyQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))

    def newest_first(self):
        return self.order_by("-taken_at", "-pk")

    def with_counts(self):
        return self.annotate(reading_count=models.Count("readings"))


class Survey(Removable):
    """The readings of one afternoon."""

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

    def __str__(self):
        return f"Survey of {self.day():%Y-%m-%d}"

    def clean(self):
        if self.taken_at is None:
            return
        if self.taken_at > timezone.now():
            raise ValidationError({"taken_at": "This is in the future. When was it measured?"})
        errors = too_early(taken_at=self.taken_at)
        if errors:
            raise ValidationError(errors)

    def problems_of_return(self):
        tank = self.tank
        outside = self.readings.filter(
            models.Q(x_cm__gt=tank.length_cm)
            | models.Q(y_cm__gt=tank.width_cm)
            | models.Q(depth_cm__gt=tank.depth_cm)
        ).count()
        told = "The tank is smaller now, and {} of its readings would lie outside the water."
        return [told.format(outside)] if outside else []

    @property
    def peak_share(self):
        """What PAR as read is multiplied by to give PAR at the day's peak [1]."""
        return 100.0 / self.level_percent

    @property
    def to_peak(self):
        """What a reading is multiplied by to give PAR at the day's peak [1]."""
        return self.correction_factor * self.peak_share

    def day(self):
        """Return the date of the survey at the tank."""
        return timezone.localdate(self.taken_at, timezone=self.tank.zone)

    def factor_now(self):
        """Return the factor by what the meter says today and the light's colour [1]."""
        return (self.meter.total_factor() if self.meter else 1.0) * self.spectral_factor

    def take_meter_factor(self):
        """Correct the readings as the meter says now; with no meter only for the colour."""
        self.correction_factor = self.factor_now()

    def factor_is_stale(self):
        """Whether the meter says another factor now than when this survey took it."""
        return self.meter is not None and abs(self.factor_now() / self.correction_factor - 1) > 1e-9

    @property
    def is_in_lux(self):
        return self.meter is not None and self.meter.kind == Meter.Kind.LUX

    @property
    def value_max(self):
        """The highest value its meter may have shown: of PAR, or the lux that PAR would be."""
        return min(PAR[1] / self.correction_factor, ANY_VALUE[1]) if self.is_in_lux else PAR[1]

    def last_revision(self):
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

    def __str__(self):
        return f"{self.value_umol:g} at {self.x_cm:g}, {self.y_cm:g}, {self.depth_cm:g}"

    @property
    def peak_umol(self):
        """PAR at the day's peak [umol m-2 s-1]."""
        return self.value_umol * self.survey.to_peak

    @property
    def par_umol(self):
        """PAR after the meter's correction [umol m-2 s-1]."""
        return self.value_umol * self.survey.correction_factor

    def problems(self, *, unit=CM):
        """Return {field: sentence} for what is out of bounds; lengths told in `unit`."""
        errors = self.survey.tank.point_errors(
            x_cm=self.x_cm, y_cm=self.y_cm, depth_cm=self.depth_cm, unit=unit
        )
        most, what = self.survey.value_max, "Lux" if self.survey.is_in_lux else "PAR"
        if self.value_umol is not None and not PAR[0] <= self.value_umol <= most:
            errors["value_umol"] = f"{what} is between {PAR[0]:g} and {most:.6g}."
        if self.spread_umol is not None and not 0 <= self.spread_umol <= most / 2:
            errors["spread_umol"] = f"A spread is between 0 and {most / 2:.6g}."
        return errors

    def clean(self):
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

    def __str__(self):
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

    def __str__(self):
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

    def __str__(self):
        return f"point {self.number} at {self.x_cm:g}, {self.y_cm:g}, {self.depth_cm:g}"


class LoggedSeriesQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))


class LoggedSeries(Removable):
    """What a logger saw at one fixed point through days: times and values as it wrote them."""

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="logged_series")
    label = models.CharField("what you call it", max_length=80)
    x_cm = models.FloatField("from the left end")
    y_cm = models.FloatField("from the front pane")
    depth_cm = models.FloatField("below the surface")
    correction_factor = models.FloatField(
        "multiply readings by", default=1.0, validators=bounds(*METER_FACTOR)
    )
    # [[seconds since 1970, PAR as logged], ...], ascending.
    samples = models.JSONField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        editable=False,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = LoggedSeriesQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        verbose_name_plural = "logged series"
        constraints = [bounds_check("logged_series", "correction_factor", *METER_FACTOR)]

    def __str__(self):
        return self.label

    def clean(self):
        errors = self.tank.point_errors(x_cm=self.x_cm, y_cm=self.y_cm, depth_cm=self.depth_cm)
        if errors:
            raise ValidationError(errors)
