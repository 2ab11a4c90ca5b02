"""The days that hold from a light change on: by hours alone, or as curves that run together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from functools import cached_property

from apps.lighting.clock import day_ends, local_stretches
from apps.lighting.day_models import RunningCurve, Zone
from apps.lighting.group_share import group_share
from apps.lighting.models import HungFixture, LightChange
from apps.photics.day.change import joined
from apps.photics.day.curve import DayCurve, ramped_day
from apps.photics.ground.dose import ramped_day_hours


@dataclass(frozen=True)
class DaySchedule:
    """How long the lights burn: first to last light, and the ramp at each end [h].

    It tells no clock time, and its peak is the level the lights are set to.
    """

    day_hours: float
    ramp_hours: float
    peak: float = 1.0

    @property
    def full_hours(self) -> float:
        """Hours at the day's peak the day is worth [h]."""
        return ramped_day_hours(day_hours=self.day_hours, ramp_hours=self.ramp_hours)

    @property
    def words(self) -> str:
        """First to last light, and the ramps."""
        return f"{self.day_hours:g}\u00a0h, ramps {self.ramp_hours:g}\u00a0h"

    def hours_at_or_above(self, share: float) -> float:
        """Return the hours at a share of the day's peak [1] or brighter [h]."""
        curve = ramped_day(start_minute=0, day_hours=self.day_hours, ramp_hours=self.ramp_hours)
        return curve.hours_at_or_above(share)

    def hours_between(self, start: datetime, end: datetime, zone: tzinfo) -> float:
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
    since: datetime
    is_moonlight: bool = False
    source_pk: int | None = None
    # Whether its share is that of its channels in what hangs, not one that was typed.
    follows_channels: bool = False

    def must_stop_for(self, new: Running) -> bool:
        """Return whether this curve stops when another starts.

        A curve of all channels ends those of single groups in its zone, and the other way round;
        moonlight burns beside any of them.
        """
        if self.zone != new.zone:
            return False
        if self.group == new.group:
            return True
        either_is_all = not self.group or not new.group
        return either_is_all and not self.is_moonlight and not new.is_moonlight


@dataclass(frozen=True)
class DayRun:
    """The day curves of the display together, as one curve of their PAR."""

    curves: tuple[Running, ...]

    @cached_property
    def curve(self) -> DayCurve:
        """The curve of PAR, as a share of all groups at full level."""
        if not self.total:
            return DayCurve(())
        if len(self.curves) == 1:
            return self.curves[0].curve
        return joined([r.curve for r in self.curves], [r.share / self.total for r in self.curves])

    @property
    def total(self) -> float:
        """Sum of the groups' shares [1]."""
        return sum(running.share for running in self.curves)

    @property
    def peak(self) -> float:
        """The brightest moment of the day, 1 for full level of the groups named [1].

        Moonlight borrows the channels of the day, so its share is not one of the whole.
        """
        whole = sum(r.share for r in self.curves if not r.is_moonlight) or self.total
        return self.curve.peak * self.total / whole if whole else 0.0

    @property
    def day_hours(self) -> float:
        """Hours of the longest day among the curves, moonlight aside [h]."""
        lit = [r.curve.photoperiod_hours for r in self.curves if not r.is_moonlight]
        return max(lit, default=0.0)

    @property
    def words(self) -> str:
        """The curves by name."""
        return ", ".join(running.name for running in self.curves)

    @property
    def full_hours(self) -> float:
        """Hours at the day's peak the day is worth [h]."""
        return self.curve.full_hours / self.curve.peak if self.curve.peak else 0.0

    def hours_at_or_above(self, share: float) -> float:
        """Return the hours at a share of the day's peak [1] or brighter [h]."""
        return self.curve.hours_at_or_above(share * self.curve.peak) if self.curve.peak else 0.0

    def hours_between(self, start: datetime, end: datetime, zone: tzinfo) -> float:
        """Return the hours at the day's peak between two moments, by the zone's clock [h]."""
        if not self.curve.peak:
            return 0.0
        return self.curve.hours_over(local_stretches(start, end, zone)) / self.curve.peak


Schedule = DaySchedule | DayRun


def running_of(row: RunningCurve, since: datetime) -> Running:
    """Return the Running of a RunningCurve that starts at a moment."""
    return Running(
        name=row.name,
        zone=row.zone,
        group=row.group,
        share=1.0 if row.share_percent is None else row.share_percent / 100.0,
        curve=row.curve(),
        since=since,
        is_moonlight=row.is_moonlight,
        source_pk=row.source_id,
        follows_channels=row.share_percent is None and bool(row.group),
    )


def weighed(running: Iterable[Running], rig: Sequence[HungFixture]) -> tuple[Running, ...]:
    """Return Runnings with the shares their channels have in a rig's HungFixtures."""
    result = []
    for one in running:
        share = group_share(rig, zone=one.zone, group=one.group) if one.follows_channels else None
        result.append(one if share is None or share == one.share else replace(one, share=share))
    return tuple(result)


def day_after(
    row: LightChange, running: tuple[Running, ...], rig: Sequence[HungFixture] = ()
) -> tuple[tuple[Running, ...], Schedule | None]:
    """Return what runs after a LightChange and the schedule it tells, None where it tells none.

    `running` are the curves before it, `rig` the HungFixtures after it. Only what a change starts
    is stored, so that one entered, moved or taken away later is followed by all after it. Hours
    alone end the display's curves.
    """
    started = [running_of(day, row.happened_at) for day in row.days.all()]
    for new in started:
        running = (*(r for r in running if not r.must_stop_for(new)), new)
    if not started and row.day_hours is not None:
        running = tuple(r for r in running if r.zone != Zone.DISPLAY)
        return running, DaySchedule(row.day_hours, row.ramp_hours)
    before, running = running, weighed(running, rig)
    shown = tuple(r for r in running if r.zone == Zone.DISPLAY)
    # Moonlight alone is no day: the hours entered before it hold.
    is_changed = any(new.zone == Zone.DISPLAY for new in started) or running != before
    is_day = is_changed and not all(r.is_moonlight for r in shown)
    return running, DayRun(shown) if is_day else None
