"""Which light was on when: a tank's changes read once, then asked for any moment."""

import math
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from itertools import pairwise

from apps.lighting.clock import day_ends, local_stretches
from apps.lighting.day_models import Zone
from apps.photics import scene
from apps.photics.day_change import joined
from apps.photics.day_curve import DayCurve, ramped_day
from apps.photics.dose import ramped_day_hours


@dataclass(frozen=True)
class DaySchedule:
    """How long the lights burn: first to last light, and the ramp at each end [h].

    It tells no clock time, and its peak is the level the lights are set to.
    """

    day_hours: float
    ramp_hours: float
    peak: float = 1.0

    @property
    def full_hours(self):
        """Hours at the day's peak the day is worth [h]."""
        return ramped_day_hours(day_hours=self.day_hours, ramp_hours=self.ramp_hours)

    def hours_at_or_above(self, share):
        """Return the hours at a share of the day's peak [1] or brighter [h]."""
        curve = ramped_day(start_minute=0, day_hours=self.day_hours, ramp_hours=self.ramp_hours)
        return curve.hours_at_or_above(share)

    def hours_between(self, start, end, zone):
        """Return the hours at the day's peak between two moments [h].

        Without a clock time the hours of a day are spread evenly over it.
        """
        midnight, next_midnight = day_ends(start.astimezone(zone).date(), zone)
        share = (end.timestamp() - start.timestamp()) / (
            next_midnight.timestamp() - midnight.timestamp()
        )
        return self.full_hours * share


@dataclass(frozen=True)
class Running:
    """A day curve in force: its name, group and zone, its share of PAR at full level [1]."""

    name: str
    zone: str
    group: str
    share: float
    curve: DayCurve
    is_moonlight: bool = False
    source_pk: int | None = None


@dataclass(frozen=True)
class DayRun:
    """The day curves of the display together, as one curve of their PAR."""

    curves: tuple[Running, ...]

    @cached_property
    def curve(self):
        """The curve of PAR, as a share of all groups at full level."""
        if not self.total:
            return DayCurve(())
        if len(self.curves) == 1:
            return self.curves[0].curve
        return joined([r.curve for r in self.curves], [r.share / self.total for r in self.curves])

    @property
    def total(self):
        return sum(running.share for running in self.curves)

    @property
    def peak(self):
        """The brightest moment of the day, 1 for full level of the groups told [1].

        Moonlight borrows the channels of the day, so its share is not one of the whole.
        """
        whole = sum(r.share for r in self.curves if not r.is_moonlight) or self.total
        return self.curve.peak * self.total / whole if whole else 0.0

    @property
    def full_hours(self):
        """Hours at the day's peak the day is worth [h]."""
        return self.curve.full_hours / self.curve.peak if self.curve.peak else 0.0

    def hours_at_or_above(self, share):
        """Return the hours at a share of the day's peak [1] or brighter [h]."""
        return self.curve.hours_at_or_above(share * self.curve.peak) if self.curve.peak else 0.0

    def hours_between(self, start, end, zone):
        """Return the hours at the day's peak between two moments, by the zone's clock [h]."""
        if not self.curve.peak:
            return 0.0
        return self.curve.hours_over(local_stretches(start, end, zone)) / self.curve.peak


@dataclass(frozen=True)
class Change:
    """A light change as the history needs it."""

    pk: int
    happened_at: datetime
    summary: str
    factor: float
    schedule: DaySchedule | DayRun | None
    rig: tuple[scene.Fixture, ...]
    days: tuple[Running, ...] = ()


@dataclass(frozen=True)
class LightHistory:
    """All changes of one tank in order of time."""

    changes: tuple[Change, ...]

    def between(self, start, end):
        """Return the changes with start < when <= end."""
        return tuple(c for c in self.changes if start < c.happened_at <= end)

    def factor_between(self, start, end):
        """Return light at `end` for 1 at `start` [1]; `end` may be the earlier of the two."""
        if end < start:
            return 1.0 / self.factor_between(end, start)
        return math.prod(c.factor for c in self.between(start, end))

    def schedule_at(self, moment):
        """Return the day schedule in force, or None before the keeper told one.

        A change without hours leaves the schedule before it in force.
        """
        told = [c.schedule for c in self.changes if c.happened_at <= moment and c.schedule]
        return told[-1] if told else None

    def days_at(self, moment):
        """Return the day curves in force, of all zones; none where only hours were told."""
        told = [c for c in self.changes if c.happened_at <= moment and (c.schedule or c.days)]
        return told[-1].days if told else ()

    def day_pieces(self, day, zone):
        """Return a date as pieces of unchanged light: (moment, hours at the day's peak [h]).

        Hours are None where nobody told a schedule. A date has 23 to 25 hours by the zone's clock.
        """
        start, end = day_ends(day, zone)
        turns = [c.happened_at for c in self.changes if start < c.happened_at < end]
        ends = [start, *turns, end]
        pieces = []
        for begin, stop in pairwise(ends):
            schedule = self.schedule_at(begin)
            hours = schedule.hours_between(begin, stop, zone) if schedule else None
            pieces.append((begin, hours))
        return tuple(pieces)

    def rig_at(self, moment):
        """Return the fixtures that hung then; none before the keeper described them."""
        told = [c.rig for c in self.changes if c.happened_at <= moment and c.rig]
        return told[-1] if told else ()


def light_history(tank):
    """Return the LightHistory of a tank; four queries however long it is."""
    rows = tank.light_changes.present().in_order().prefetch_related("hung__fixture", "days")
    return LightHistory(with_peaks(tuple(change_of(row) for row in rows)))


def change_of(row):
    """Return the Change of a LightChange."""
    days = tuple(running_of(day) for day in row.days.all())
    shown = tuple(day for day in days if day.zone == Zone.DISPLAY)
    schedule = None
    if shown:
        schedule = DayRun(shown)
    elif row.day_hours is not None:
        schedule = DaySchedule(row.day_hours, row.ramp_hours)
    return Change(
        pk=row.pk,
        happened_at=row.happened_at,
        summary=row.summary,
        factor=row.factor,
        schedule=schedule,
        rig=tuple(hung.scene() for hung in row.hung.all()),
        days=days,
    )


def running_of(row):
    """Return the Running of a RunningCurve."""
    return Running(
        name=row.name,
        zone=row.zone,
        group=row.group,
        share=row.share_percent / 100.0,
        curve=row.curve(),
        is_moonlight=row.is_moonlight,
        source_pk=row.source_id,
    )


def with_peaks(changes):
    """Return Changes whose factor holds what a new day curve does to the day's peak.

    Hours alone, and a log that tells no day yet, mean the full level the lights are set to.
    """
    found, peak = [], 1.0
    for change in changes:
        # A dark day has no peak to compare with; the light comes back as it was.
        if change.schedule and change.schedule.peak:
            change = replace(change, factor=change.factor * change.schedule.peak / peak)
            peak = change.schedule.peak
        found.append(change)
    return tuple(found)
