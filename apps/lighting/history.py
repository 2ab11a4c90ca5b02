"""Which light was on when: a tank's changes read once, then asked for any moment."""

import datetime as dt
import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from apps.lighting.models import LightChange
from apps.photics import scene
from apps.photics.ageing import aged_share
from apps.photics.dose import ramped_day_hours

DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class DaySchedule:
    """How long the lights burn: first to last light, and the ramp at each end [h]."""

    day_hours: float
    ramp_hours: float

    @property
    def full_hours(self):
        """Hours of full light the day is worth [h]."""
        return ramped_day_hours(day_hours=self.day_hours, ramp_hours=self.ramp_hours)


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
    schedule: DaySchedule | None
    rig: tuple[Lamp, ...] | None  # None where it says nothing of what hangs

    @property
    def touches_light(self):
        """Whether the light itself changed, not only the hours it burns."""
        return self.rig is not None or self.factor != 1 or self.reason != LightChange.Reason.HOURS

    @property
    def is_vague(self):
        """Whether the light changed by more than the fixtures tell of it."""
        return self.touches_light and (self.rig is None or self.factor != 1)


@dataclass(frozen=True)
class LightHistory:
    """All changes of one tank in order of time."""

    changes: tuple[Change, ...]

    def between(self, start, end):
        """Return the changes with start < when <= end."""
        return self.changes[self._place(start) : self._place(end)]

    def factor_between(self, start, end):
        """Return light at `end` for 1 at `start` [1] by the factors; `end` may be the earlier.

        What the fixtures tell of themselves is not in it.
        """
        if end < start:
            return 1.0 / self.factor_between(end, start)
        return math.prod(c.factor for c in self.between(start, end))

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
    """Return the LightHistory of a tank; two queries however long it is."""
    return LightHistory(
        tuple(
            Change(
                pk=row.pk,
                happened_at=row.happened_at,
                summary=row.title,
                reason=row.reason,
                factor=row.factor,
                schedule=None
                if row.day_hours is None
                else DaySchedule(row.day_hours, row.ramp_hours),
                rig=lamps_of(row.hung.all()) if row.tells_rig else None,
            )
            for row in tank.light_changes.present().in_order().prefetch_related("hung")
        )
    )


def lamps_of(rows):
    """Return the Lamps of HungFixtures."""
    return tuple(
        Lamp(row.number, row.make, row.scene(), row.ppf_umol_s, row.loss_percent) for row in rows
    )
