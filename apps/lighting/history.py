"""Which light was on when: a tank's changes read once, then known for any moment."""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from itertools import pairwise
from typing import TypeVar

from apps.common.reading_once import read_once
from apps.lighting.clock import day_ends
from apps.lighting.day_run import Running, Schedule, day_after
from apps.lighting.lamp_hours import Lamp, LampKey, daily_hours, lamp_hours
from apps.lighting.models import HungFixture, LightChange, Zone
from apps.lighting.rig_reading import rigs_after
from apps.photics.day.ageing import aged_proportion
from apps.photics.ground import scene
from apps.tanks.models import Tank

DAY = dt.timedelta(days=1)

Fact = TypeVar("Fact")
Stated = tuple[list[datetime], list[Fact]]


@dataclass(frozen=True)
class Change:
    """A light change as the history needs it."""

    pk: int
    happened_at: datetime
    summary: str
    reason: str
    factor: float
    schedule: Schedule | None
    rig: tuple[Lamp, ...] | None  # None where it says nothing of what hangs
    days: tuple[Running, ...] = ()
    # What a new day curve's peak makes of the light for 1 before [1].
    peak_ratio: float = 1.0
    # How far its factor may be off, where a cover's transmission is all of it [log]; None where it
    # is a keeper's guess.
    factor_deviation: float | None = None

    @property
    def touches_light(self) -> bool:
        """Whether the light itself changed, not only the hours it burns."""
        is_stated = self.rig is not None or self.reason != LightChange.Reason.HOURS
        return is_stated or self.factor != 1 or self.peak_ratio != 1

    @property
    def is_vague(self) -> bool:
        """Whether the light changed by more than the fixtures and the day account for."""
        is_stated = self.rig is not None or self.reason == LightChange.Reason.HOURS
        return self.factor != 1 or not (is_stated or self.factor_deviation is not None)


@dataclass(frozen=True)
class LightHistory:
    """All changes of one tank in order of time, and the zone of its clock."""

    changes: tuple[Change, ...]
    zone: dt.tzinfo = dt.UTC

    def between(self, start: datetime, end: datetime) -> tuple[Change, ...]:
        """Return the changes with start < when <= end."""
        return self.changes[self._place(start) : self._place(end)]

    def factor_between(self, start: datetime, end: datetime) -> float:
        """Return light at `end` for 1 at `start` [1] by the factors; `end` may be the earlier.

        What the day curves' peaks make of it is in it, what the fixtures tell of themselves not.
        """
        if end < start:
            return 1.0 / self.factor_between(end, start)
        return math.prod(self._ratios[self._place(start) : self._place(end)])

    def vague_between(self, start: datetime, end: datetime) -> tuple[Change, ...]:
        """Return the changes between two moments that leave something to a keeper's guess."""
        start, end = sorted((start, end))
        moments, changes = self._vague
        return changes[bisect_right(moments, start) : bisect_right(moments, end)]

    @cached_property
    def has_ageing(self) -> bool:
        """Whether any fixture is entered as ageing."""
        return any(lamp.loss_percent for change in self.changes for lamp in change.rig or ())

    def schedule_at(self, moment: datetime) -> Schedule | None:
        """Return the day schedule in force, or None before the keeper entered one.

        A change without hours leaves the schedule before it in force.
        """
        return in_force(self._schedules, moment)

    def full_hours_at(self, moment: datetime) -> float | None:
        """Return the hours at its peak that the day in force is worth [h], None without one."""
        schedule = self.schedule_at(moment)
        return schedule.full_hours if schedule else None

    def lamps_at(self, moment: datetime) -> tuple[Lamp, ...] | None:
        """Return the Lamps that hung then; None before the keeper described them, () for none.

        Levels are as set. An ageing tube gives less: `aged_lamps_at` says how much.
        """
        return in_force(self._rigs, moment)

    def days_at(self, moment: datetime) -> tuple[Running, ...]:
        """Return the Runnings in force, of all zones; none where only hours were entered."""
        place = self._place(moment)
        return self.changes[place - 1].days if place else ()

    def day_pieces(
        self, day: dt.date, zone: dt.tzinfo
    ) -> tuple[tuple[datetime, float | None], ...]:
        """Return a date as pieces of unchanged light: (moment, hours at the day's peak [h]).

        Hours are None where no schedule was entered. A date has 23 to 25 hours by the zone's clock.
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

    def rig_at(self, moment: datetime) -> tuple[scene.Fixture, ...]:
        """Return the fixtures that hung then; none before the keeper described them."""
        return tuple(lamp.fixture for lamp in self.lamps_at(moment) or ())

    def aged_lamps_at(self, moment: datetime) -> tuple[Lamp, ...] | None:
        """Return `lamps_at` with levels as tubes' age leaves them of what they gave when new."""
        lamps = self.lamps_at(moment)
        if not lamps or all(lamp.loss_percent is None for lamp in lamps):
            return lamps
        ages = self.ages_at(moment)
        return tuple(aged(lamp, ages[lamp.key]) for lamp in lamps)

    def ages_at(self, moment: datetime) -> dict[LampKey, float]:
        """Return {key: hours} that Lamps burnt since they were hung or got new tubes [h]."""
        place = self._place(moment)
        if place == 0:
            return {}
        burnt = self._lamp_hours(place - 1, moment)
        return {key: age + burnt[key] for key, age in self._ages[place - 1].items()}

    def daily_hours(self, lamp: Lamp, moment: datetime) -> float:
        """Return the hours a day for which a Lamp burns at a moment [h]."""
        return daily_hours(lamp, self.days_at(moment), self.schedule_at(moment))

    def _place(self, moment: datetime) -> int:
        """Return how many changes happened until a moment."""
        return bisect_right(self._moments, moment)

    def _lamp_hours(self, index: int, until: datetime) -> dict[LampKey, float]:
        """Return {key: hours} that lamps burn from a change until a moment before the next [h]."""
        change = self.changes[index]
        lamps, schedule = self._after[index]
        return lamp_hours(
            lamps, change.days, schedule, start=change.happened_at, end=until, zone=self.zone
        )

    @cached_property
    def _moments(self) -> list[datetime]:
        return [change.happened_at for change in self.changes]

    @cached_property
    def _ratios(self) -> list[float]:
        """What each change makes of the light besides its fixtures, for 1 before [1]."""
        return [change.factor * change.peak_ratio for change in self.changes]

    @cached_property
    def _vague(self) -> tuple[list[datetime], tuple[Change, ...]]:
        """The moments and the changes that leave something to a guess.

        The first description of what hangs is one: it says nothing of the light before it.
        """
        first = next((change for change in self.changes if change.rig is not None), None)
        result = tuple(change for change in self.changes if change.is_vague or change is first)
        return [change.happened_at for change in result], result

    @cached_property
    def _schedules(self) -> Stated[Schedule]:
        return stated((change.happened_at, change.schedule) for change in self.changes)

    @cached_property
    def _rigs(self) -> Stated[tuple[Lamp, ...]]:
        return stated((change.happened_at, change.rig) for change in self.changes)

    @cached_property
    def _after(self) -> list[tuple[tuple[Lamp, ...], Schedule | None]]:
        """The Lamps and the schedule that hold after each change."""
        result: list[tuple[tuple[Lamp, ...], Schedule | None]] = []
        lamps: tuple[Lamp, ...] = ()
        schedule: Schedule | None = None
        for change in self.changes:
            lamps = lamps if change.rig is None else change.rig
            schedule = schedule if change.schedule is None else change.schedule
            result.append((lamps, schedule))
        return result

    @cached_property
    def _ages(self) -> list[dict[LampKey, float]]:
        """The hours that each lamp after a change had burnt by then, {key: hours} a change [h]."""
        result: list[dict[LampKey, float]] = []
        ages: dict[LampKey, float] = {}
        for index, change in enumerate(self.changes):
            if index:
                burnt = self._lamp_hours(index - 1, change.happened_at)
                ages = {key: age + burnt[key] for key, age in ages.items()}
            is_new = change.reason == LightChange.Reason.TUBES
            lamps, _ = self._after[index]
            ages = {lamp.key: 0.0 if is_new else ages.get(lamp.key, 0.0) for lamp in lamps}
            result.append(ages)
        return result


def stated(pairs: Iterable[tuple[datetime, Fact | None]]) -> Stated[Fact]:
    """Return the moments and the facts of those changes that state one."""
    known = [(moment, fact) for moment, fact in pairs if fact is not None]
    return [moment for moment, _ in known], [fact for _, fact in known]


def in_force(stated: Stated[Fact], moment: datetime) -> Fact | None:
    """Return the latest fact until a moment, or None before the first."""
    moments, facts = stated
    place = bisect_right(moments, moment)
    return facts[place - 1] if place else None


def aged(lamp: Lamp, age_hours: float) -> Lamp:
    """Return a Lamp with the level that age leaves it of what it gave when new."""
    if lamp.loss_percent is None:
        return lamp
    left = aged_proportion(age_hours, loss_percent=lamp.loss_percent)
    return replace(lamp, fixture=replace(lamp.fixture, level=lamp.fixture.level * left))


def light_history(tank: Tank) -> LightHistory:
    """Return the LightHistory of a tank; three queries however long it is.

    Measured rays come on top: each RayTable is read once in a worker.
    """
    return read_once(("light history", tank.pk), lambda: read_history(tank))


def read_history(tank: Tank) -> LightHistory:
    """Return `light_history` as the database has it now."""
    rows = tank.light_changes.present().in_order().prefetch_related("days")
    rigs = rigs_after(tank)
    lamps: dict[int, Lamp] = {}
    changes: list[Change] = []
    running: tuple[Running, ...] = ()
    rig: tuple[HungFixture, ...] = ()
    for row in rows:
        hung = rigs.get(row.pk, ())
        rig = hung if row.tells_rig else rig
        running, schedule = day_after(row, running, rig)
        shown = lamps_of(hung, row.taken_down, lamps) if row.tells_rig else None
        changes.append(change_of(row, running, schedule, shown))
    return LightHistory(with_peaks(changes), tank.zone)


def change_of(
    row: LightChange,
    running: tuple[Running, ...],
    schedule: Schedule | None,
    rig: tuple[Lamp, ...] | None,
) -> Change:
    """Return the Change of a LightChange, with what runs and the Lamps it tells after it."""
    return Change(
        pk=row.pk,
        happened_at=row.happened_at,
        summary=row.title,
        reason=row.reason,
        factor=row.factor * row.cover_factor,
        factor_deviation=row.cover_deviation if row.factor == 1 else None,
        schedule=schedule,
        rig=rig,
        days=running,
    )


def lamps_of(
    rows: Sequence[HungFixture],
    taken_down: Sequence[int] = (),
    made: dict[int, Lamp] | None = None,
) -> tuple[Lamp, ...] | None:
    """Return the Lamps of the HungFixtures that shine on the display.

    None where only other zones are described: that says nothing of what hangs there. `made` keeps
    {id of a row: its Lamp} for rows that stand in many rigs.
    """
    made = {} if made is None else made
    shown = []
    for row in rows:
        if row.zone == Zone.DISPLAY:
            if id(row) not in made:
                made[id(row)] = lamp_of(row)
            shown.append(made[id(row)])
    return None if rows and not shown and not taken_down else tuple(shown)


def lamp_of(row: HungFixture) -> Lamp:
    """Return the Lamp of a HungFixture."""
    return Lamp(
        row.number, row.make, row.scene(), row.ppf_umol_s, row.loss_percent, row.lit_channels
    )


def with_peaks(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Return Changes with what each new day curve does to the day's peak.

    Hours alone, and a log that tells no day yet, mean the full level the lights are set to.
    """
    result, peak = [], 1.0
    for change in changes:
        # A dark day has no peak to compare with; the light comes back as it was.
        schedule = change.schedule
        if schedule and schedule.peak:
            change = replace(change, peak_ratio=schedule.peak / peak)
            peak = schedule.peak
        result.append(change)
    return tuple(result)
