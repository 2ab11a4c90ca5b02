"""How long fixtures burn: each by the day of its own channels, and by the tank's clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from apps.lighting.clock import local_stretches
from apps.lighting.day_models import Zone
from apps.lighting.day_run import DaySchedule, Running, Schedule
from apps.lighting.group_share import belongs
from apps.photics.day.change import lit_time
from apps.photics.day.curve import DayCurve, Stretch
from apps.photics.ground import scene

HOURS_A_DAY = 24.0

# What makes a lamp the same thing on another day: its number, and what it is.
LampKey = tuple[int, tuple[object, ...]]


@dataclass(frozen=True)
class Lamp:
    """A fixture that hangs: its number, what it is, and how it is set."""

    number: int
    make: tuple[object, ...]
    fixture: scene.Fixture
    ppf_umol_s: float | None = None
    loss_percent: float | None = None  # lost in 1,000 hours of light
    lit_channels: tuple[str, ...] = ()  # those above zero; its name where no channels are known

    @property
    def key(self) -> LampKey:
        """What makes it the same thing on another day."""
        return self.number, self.make


def lamp_hours(
    lamps: Iterable[Lamp],
    running: Sequence[Running],
    schedule: Schedule | None,
    *,
    start: dt.datetime,
    end: dt.datetime,
    zone: dt.tzinfo,
) -> dict[LampKey, float]:
    """Return {key: hours} that Lamps burn between two moments of unchanged light [h].

    `running` are the Runnings in force and `schedule` what the display's day is. Where only hours
    were entered, each day's are spread evenly over it, as nobody knows their clock times.
    """
    stretches: tuple[Stretch, ...] | None = None
    result: dict[LampKey, float] = {}
    by_day: dict[tuple[DayCurve, ...], float] = {}
    for lamp in lamps:
        day = lit_day(lamp, running, schedule)
        if day is None:
            result[lamp.key] = 0.0
        elif isinstance(day, DaySchedule):
            spans = (end.timestamp() - start.timestamp()) / 3600 / HOURS_A_DAY
            result[lamp.key] = spans * day.day_hours
        else:
            if day not in by_day:
                stretches = stretches or local_stretches(start, end, zone)
                by_day[day] = lit_time(day).hours_over(stretches)
            result[lamp.key] = by_day[day]
    return result


def lit_day(
    lamp: Lamp, running: Iterable[Running], schedule: Schedule | None
) -> DaySchedule | tuple[DayCurve, ...] | None:
    """Return what a Lamp burns by: day curves, hours alone, or None while it is dark.

    It burns while the curve of any group that its lit channels belong to is above zero, or one of
    all channels. One that belongs to none burns with the day, moonlight aside. A fixture without
    channels goes by its name.
    """
    if lamp.fixture.level <= 0 or schedule is None:
        return None
    if isinstance(schedule, DaySchedule):
        return schedule
    shown = [run for run in running if run.zone == Zone.DISPLAY]
    day = [run for run in shown if not run.is_moonlight]
    own = [
        run
        for run in shown
        if any(belongs(name, run.group) for name in lamp.lit_channels)
        or (not run.group and not run.is_moonlight)
    ]
    return tuple(run.curve for run in own or day)


def daily_hours(lamp: Lamp, running: Iterable[Running], schedule: Schedule | None) -> float:
    """Return the hours a Lamp burns on an ordinary day [h]."""
    day = lit_day(lamp, running, schedule)
    if day is None:
        return 0.0
    return day.day_hours if isinstance(day, DaySchedule) else lit_time(day).full_hours
