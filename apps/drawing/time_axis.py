"""Axes and paths of a chart over time: moments to shares of the width, values to heights.

Pure arithmetic. Positions across are in percent of the drawing's width, so that one drawing
fits a phone and a desk with text of the same size; heights are in pixels.
"""

import datetime as dt
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from apps.drawing.marks import Tick

# Paths are drawn in a box this wide and stretched to the width of the page.
PATH_WIDTH = 1000


@dataclass(frozen=True)
class TimeAxis:
    """The stretch of time a chart shows; start and end are aware and in one time zone."""

    start: dt.datetime
    end: dt.datetime

    def percent(self, moment: dt.datetime) -> float:
        """Return where a moment lies across the drawing [%], held to its edges."""
        share = (moment - self.start) / (self.end - self.start)
        return round(100.0 * min(max(share, 0.0), 1.0), 2)

    def holds(self, moment: dt.datetime) -> bool:
        """Tell whether a moment lies on the axis."""
        return self.start <= moment <= self.end

    def path_x(self, moment: dt.datetime) -> float:
        """Return where a moment lies in a path [1/1000 of the width]."""
        return round(self.percent(moment) * PATH_WIDTH / 100.0, 1)

    def ticks(self, *, most: int = 5) -> tuple[Tick, ...]:
        """Return at most `most` Ticks on whole days, months or years, in the axis' time zone."""
        for step in STEPS:
            moments = list(step.moments(self.start, self.end))
            if len(moments) <= most:
                return tuple(Tick(self.percent(m), step.label(m)) for m in moments)
        return ()


@dataclass(frozen=True)
class DayStep:
    """A tick every so many days, counted from the end so that the newest day has one."""

    days: int

    def moments(self, start: dt.datetime, end: dt.datetime) -> Iterator[dt.datetime]:
        """Yield the moments from start to end that get a tick, in no set order."""
        day = end.date()
        while (moment := midnight(day, end.tzinfo)) >= start:
            yield moment
            day -= dt.timedelta(days=self.days)

    def label(self, moment: dt.datetime) -> str:
        return f"{moment.day} {moment:%b}"


@dataclass(frozen=True)
class MonthStep:
    """A tick on the first of every so many months, in step with the calendar year."""

    months: int

    def moments(self, start: dt.datetime, end: dt.datetime) -> Iterator[dt.datetime]:
        """Yield the moments from start to end that get a tick, in no set order."""
        count = start.year * 12 + start.month - 1
        count += -count % self.months
        while (moment := midnight(dt.date(count // 12, count % 12 + 1, 1), end.tzinfo)) <= end:
            if moment >= start:
                yield moment
            count += self.months

    def label(self, moment: dt.datetime) -> str:
        return f"{moment:%Y}" if moment.month == 1 else f"{moment:%b}"


STEPS: tuple[DayStep | MonthStep, ...] = (
    *(DayStep(n) for n in (1, 2, 7, 14)),
    *(MonthStep(n) for n in (1, 2, 3, 6, 12, 24, 60, 120, 600)),
)


def midnight(day: dt.date, zone: dt.tzinfo | None) -> dt.datetime:
    """Return the first moment of a date in a time zone."""
    return dt.datetime.combine(day, dt.time.min, tzinfo=zone)


@dataclass(frozen=True)
class ValueAxis:
    """Values from `foot` to `top` over a height in pixels; `foot` lies at its lower edge."""

    top: float
    height: float
    foot: float = 0.0

    def y(self, value: float) -> float:
        """Return the pixel from the top of a value, held to the drawing."""
        share = min(max((value - self.foot) / (self.top - self.foot), 0.0), 1.0)
        return round(self.height * (1.0 - share), 1)

    def ticks(self, *, most: int = 4) -> tuple[Tick, ...]:
        """Return Ticks on round values, the foot included."""
        step = round_step(self.top - self.foot, most=most)
        first = math.ceil(self.foot / step - 1e-9)
        count = int(self.top / step + 1e-9) - first
        values = (step * (first + i) for i in range(count + 1))
        return tuple(Tick(self.y(value), f"{value:g}") for value in values)


def value_axis(largest: float, *, height: float, most: int = 4, smallest: float = 0.0) -> ValueAxis:
    """Return the ValueAxis that holds `smallest` to `largest` and ends on round values."""
    step = round_step(max(largest - smallest, 1e-9), most=most)
    foot = step * math.floor(smallest / step + 1e-9)
    top = step * math.ceil(largest / step - 1e-9)
    return ValueAxis(max(top, foot + step), height, foot)


def round_step(span: float, *, most: int) -> float:
    """Return the smallest 1, 2 or 5 times a power of ten of which `most` span `span`.

    >>> round_step(330, most=4)
    100.0
    """
    rough = span / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * m for m in (1, 2, 5, 10) if power * m >= rough * (1 - 1e-9))


@dataclass(frozen=True)
class Step:
    """One value, or a low and a high one, that hold from one moment to another."""

    start: dt.datetime
    end: dt.datetime
    low: float
    high: float
    kind: str = ""


def step_path(steps: Iterable[Step], *, time: TimeAxis, value: ValueAxis) -> str:
    """Return the path of a stepped line along `low`; a gap in time lifts the pen."""
    parts, last = [], None
    for step in steps:
        y = value.y(step.low)
        if last is not None and last.end == step.start:
            parts.append(f"V{y:g}H{time.path_x(step.end):g}")
        else:
            parts.append(f"M{time.path_x(step.start):g} {y:g}H{time.path_x(step.end):g}")
        last = step
    return "".join(parts)


def kind_paths(steps: Iterable[Step], *, time: TimeAxis, value: ValueAxis) -> dict[str, str]:
    """Return {kind: path}: one stepped line drawn in several manners, joined by its risers.

    A riser is drawn in the manner of the step it leads to.
    """
    paths: dict[str, str] = {}
    last: Step | None = None
    for kind, grouped in groupby(steps, key=lambda step: step.kind):
        run = list(grouped)
        path = step_path(run, time=time, value=value)
        if last is not None and last.end == run[0].start:
            path = (
                f"M{time.path_x(last.end):g} {value.y(last.low):g}V{value.y(run[0].low):g}" + path
            )
        paths[kind] = paths.get(kind, "") + path
        last = run[-1]
    return paths


def band_path(steps: Iterable[Step], *, time: TimeAxis, value: ValueAxis) -> str:
    """Return one closed path over the stretches between `low` and `high`."""
    return "".join(
        f"M{time.path_x(s.start):g} {value.y(s.high):g}H{time.path_x(s.end):g}"
        f"V{value.y(s.low):g}H{time.path_x(s.start):g}Z"
        for s in steps
    )
