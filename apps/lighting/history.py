"""Which light was on when: a tank's changes read once, then asked for any moment."""

import datetime as dt
import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from itertools import pairwise

from apps.lighting.clock import day_ends, local_stretches
from apps.lighting.day_models import Zone
from apps.lighting.models import LightChange
from apps.photics import scene
from apps.photics.ageing import aged_share
from apps.photics.day_change import joined
from apps.photics.day_curve import DayCurve, ramped_day
from apps.photics.dose import ramped_day_hours

DAY = dt.timedelta(days=1)


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

    @property
    def words(self):
        """First to last light, and the ramps."""
        return f"{self.day_hours:g} h, ramps {self.ramp_hours:g} h"

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
        """Sum of the groups' shares [1]."""
        return sum(running.share for running in self.curves)

    @property
    def peak(self):
        """The brightest moment of the day, 1 for full level of the groups told [1].

        Moonlight borrows the channels of the day, so its share is not one of the whole.
        """
        whole = sum(r.share for r in self.curves if not r.is_moonlight) or self.total
        return self.curve.peak * self.total / whole if whole else 0.0

    @property
    def day_hours(self):
        """Hours of the longest day among the curves, moonlight aside [h]."""
        lit = [r.curve.photoperiod_hours for r in self.curves if not r.is_moonlight]
        return max(lit, default=0.0)

    @property
    def words(self):
        """The curves by name."""
        return ", ".join(running.name for running in self.curves)

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
class Lamp:
    """A fixture that hangs: its number, what it is, and how it is set."""

    number: int
    make: tuple
    fixture: scene.Fixture
    ppf_umol_s: float | None = None
    loss_percent: float | None = None  # lost in 1,000 hours of light

    @property
    def key(self):
        """What makes it the same thing on another day."""
        return self.number, self.make


@dataclass(frozen=True)
class Change:
    """A light change as the history needs it."""

    pk: int
    happened_at: datetime
    summary: str
    reason: str
    factor: float
    schedule: DaySchedule | DayRun | None
    rig: tuple[Lamp, ...] | None  # None where it says nothing of what hangs
    days: tuple[Running, ...] = ()
    # What a new day curve's peak makes of the light for 1 before [1].
    peak_ratio: float = 1.0

    @property
    def touches_light(self):
        """Whether the light itself changed, not only the hours it burns."""
        told = self.rig is not None or self.reason != LightChange.Reason.HOURS
        return told or self.factor != 1 or self.peak_ratio != 1

    @property
    def is_vague(self):
        """Whether the light changed by more than the fixtures and the day tell of it."""
        told = self.rig is not None or self.reason == LightChange.Reason.HOURS
        return self.factor != 1 or not told


@dataclass(frozen=True)
class LightHistory:
    """All changes of one tank in order of time."""

    changes: tuple[Change, ...]

    def between(self, start, end):
        """Return the changes with start < when <= end."""
        return self.changes[self._place(start) : self._place(end)]

    def factor_between(self, start, end):
        """Return light at `end` for 1 at `start` [1] by the factors; `end` may be the earlier.

        What the day curves' peaks make of it is in it, what the fixtures tell of themselves not.
        """
        if end < start:
            return 1.0 / self.factor_between(end, start)
        return math.prod(c.factor * c.peak_ratio for c in self.between(start, end))

    def vague_between(self, start, end):
        """Return the changes between two moments that leave something to a keeper's guess."""
        start, end = sorted((start, end))
        known = self.lamps_at(start) is not None
        found = []
        for change in self.between(start, end):
            # The first description of what hangs says nothing of the light before it.
            if change.is_vague or (change.rig is not None and not known):
                found.append(change)
            known = known or change.rig is not None
        return tuple(found)

    @property
    def has_ageing(self):
        """Whether any fixture is told to age."""
        return any(lamp.loss_percent for change in self.changes for lamp in change.rig or ())

    def schedule_at(self, moment):
        """Return the day schedule in force, or None before the keeper told one.

        A change without hours leaves the schedule before it in force.
        """
        return self._last("schedule", moment)

    def lamps_at(self, moment):
        """Return the Lamps that hung then; None before the keeper described them, () for none.

        Levels are as set. An ageing tube gives less: `aged_lamps_at` says how much.
        """
        return self._last("rig", moment)

    def days_at(self, moment):
        """Return the day curves in force, of all zones; none where only hours were told."""
        told = [c for c in self.changes[: self._place(moment)] if c.schedule or c.days]
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
        return tuple(lamp.fixture for lamp in self.lamps_at(moment) or ())

    def aged_lamps_at(self, moment):
        """Return `lamps_at` with levels as tubes' age leaves them of what they gave when new."""
        lamps = self.lamps_at(moment)
        if not lamps or all(lamp.loss_percent is None for lamp in lamps):
            return lamps
        return tuple(self._aged(lamp, moment) for lamp in lamps)

    def lit_hours(self, start, end):
        """Return the hours of light from start to end [h], an even share of each day's hours."""
        return self._lit_until(end) - self._lit_until(start)

    def age_hours(self, lamp, moment):
        """Return the hours of light since a lamp was hung or its tubes were last replaced [h]."""
        since = None
        for change in self.changes[: self._place(moment)]:
            if change.rig is not None:
                hangs = any(other.key == lamp.key for other in change.rig)
                since = (since or change.happened_at) if hangs else None
            if change.reason == LightChange.Reason.TUBES:
                since = change.happened_at
        return 0.0 if since is None else self.lit_hours(since, moment)

    def _aged(self, lamp, moment):
        if lamp.loss_percent is None:
            return lamp
        left = aged_share(self.age_hours(lamp, moment), loss_percent=lamp.loss_percent)
        return replace(lamp, fixture=replace(lamp.fixture, level=lamp.fixture.level * left))

    def _place(self, moment):
        """Return how many changes happened until a moment."""
        return bisect_right(self._moments, moment)

    def _last(self, name, moment):
        told = self._told[name]
        place = bisect_right(told[0], moment)
        return told[1][place - 1] if place else None

    def _lit_until(self, moment):
        """Return the hours of light from the first change to a moment [h]."""
        place = self._place(moment)
        if place == 0:
            return 0.0
        schedule = self.schedule_at(moment)
        hours = schedule.day_hours if schedule else 0.0
        return self._lit_before[place - 1] + (moment - self._moments[place - 1]) / DAY * hours

    @cached_property
    def _moments(self):
        return [change.happened_at for change in self.changes]

    @cached_property
    def _told(self):
        """The moments and values of what changes tell, by name."""
        found = {}
        for name in ("schedule", "rig"):
            telling = [c for c in self.changes if getattr(c, name) is not None]
            found[name] = [c.happened_at for c in telling], [getattr(c, name) for c in telling]
        return found

    @cached_property
    def _lit_before(self):
        """Hours of light from the first change to each [h]."""
        sums, total, before, hours = [], 0.0, None, 0.0
        for change in self.changes:
            total += (change.happened_at - before) / DAY * hours if before else 0.0
            sums.append(total)
            before = change.happened_at
            hours = change.schedule.day_hours if change.schedule else hours
        return sums


def light_history(tank):
    """Return the LightHistory of a tank; three queries however long it is."""
    rows = tank.light_changes.present().in_order().prefetch_related("hung", "days")
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
        summary=row.title,
        reason=row.reason,
        factor=row.factor,
        schedule=schedule,
        rig=lamps_of(row.hung.all()) if row.tells_rig else None,
        days=days,
    )


def lamps_of(rows):
    """Return the Lamps of HungFixtures."""
    return tuple(
        Lamp(row.number, row.make, row.scene(), row.ppf_umol_s, row.loss_percent) for row in rows
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
    """Return Changes with what each new day curve does to the day's peak.

    Hours alone, and a log that tells no day yet, mean the full level the lights are set to.
    """
    found, peak = [], 1.0
    for change in changes:
        # A dark day has no peak to compare with; the light comes back as it was.
        if change.schedule and change.schedule.peak:
            change = replace(change, peak_ratio=change.schedule.peak / peak)
            peak = change.schedule.peak
        found.append(change)
    return tuple(found)
