"""A day curve: what share of full light burns at each minute, and exact sums of it.

A curve knows clock minutes only. Zones and daylight saving come in as *stretches*: pieces of
true time over which the clock on the wall runs evenly (`stretches` makes them from a table of
offsets), so that a day of 23 or 25 hours is summed like any other.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple, overload

import numpy as np

from apps.photics import limits
from apps.photics.ground.arrays import ArrayLike, FloatArray

# A day of the clock [min], exact.
MINUTES_A_DAY = 1440.0
# The same, exact.
SECONDS_A_DAY = 86_400
# All of the way along a ramp [1].
WHOLE = np.ones(())

# Ramps between two points, as share of the rise r(u) over the share u of the way from the lower
# end to the higher; with it the integral from 0 to u, and the inverse of r. Exact closed forms.
Law = Callable[[FloatArray], FloatArray]
RAMPS: dict[str, tuple[Law, Law, Law]] = {
    "straight": (lambda u: u, lambda u: u * u / 2, lambda r: r),
    "half-sine": (
        lambda u: np.sin(np.pi * u / 2),
        lambda u: (1 - np.cos(np.pi * u / 2)) * 2 / np.pi,
        lambda r: np.arcsin(r) * 2 / np.pi,
    ),
    "sin-squared": (
        lambda u: np.sin(np.pi * u / 2) ** 2,
        lambda u: u / 2 - np.sin(np.pi * u) / (2 * np.pi),
        lambda r: np.arcsin(np.sqrt(r)) * 2 / np.pi,
    ),
}


class DayCurveError(ValueError):
    """Points that make no day curve; `problems` are plain sentences, one each."""

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__(" ".join(self.problems))


class Stretch(NamedTuple):
    """A piece of true time with an even clock: where the clock stands, and how long it lasts."""

    minute: float  # local clock at its start [min after midnight]
    seconds: float  # true length [s]


class Ramp(NamedTuple):
    """The pieces of a curve as arrays (n,): start and end [min], level at each [1]."""

    start: FloatArray
    end: FloatArray
    first: FloatArray
    last: FloatArray

    @property
    def length(self) -> FloatArray:
        """How long each lasts (n,) [min]."""
        return self.end - self.start

    @property
    def low(self) -> FloatArray:
        """The lower level of each (n,) [1]."""
        lower: FloatArray = np.minimum(self.first, self.last)
        return lower

    @property
    def rise(self) -> FloatArray:
        """From the lower level to the higher (n,) [1]."""
        rise: FloatArray = np.abs(self.last - self.first)
        return rise


@dataclass(frozen=True)
class DayCurve:
    """Levels through a day; dark before the first point and after the last.

    `points`: (minute after midnight [min], level 0 to 1 [1]), minutes ascending over at most a day;
    a curve that passes midnight goes on above 1440. Two points at one minute make a step. This
    class holds any curve that can be summed; a keeper's own come through `day_curve`, which also
    asks for a dark night. Raises DayCurveError.

    >>> DayCurve(((480, 0), (600, 1), (1080, 1), (1200, 0))).full_hours
    10.0
    """

    points: tuple[tuple[float, float], ...]
    ramp: str = "straight"
    moonlight: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        points = tuple((float(minute), float(level)) for minute, level in self.points)
        object.__setattr__(self, "points", points)
        if problems := form_problems(points, ramp=self.ramp):
            raise DayCurveError(problems)

    @cached_property
    def ramps(self) -> Ramp:
        """The pieces between the points, those of no length left out."""
        minutes, levels = np.array(self.points, float).reshape(-1, 2).T
        long = np.diff(minutes) > 0
        return Ramp(minutes[:-1][long], minutes[1:][long], levels[:-1][long], levels[1:][long])

    @overload
    def level_at(self, minute: float) -> float: ...
    @overload
    def level_at(self, minute: FloatArray) -> FloatArray: ...
    def level_at(self, minute: ArrayLike) -> FloatArray | float:
        """Return the level at clock minutes, of their shape [1]; at a step, the later level.

        `minute` after midnight, scalar or array, any number [min].
        """
        clock = np.asarray(minute, float)[..., None] % MINUTES_A_DAY
        ramps, (shape, _, _) = self.ramps, RAMPS[self.ramp]
        level = np.zeros(clock.shape[:-1])
        for at in (clock, clock + MINUTES_A_DAY):
            inside = (at >= ramps.start) & (at < ramps.end)
            share = np.clip((at - ramps.start) / ramps.length, 0, 1)
            upward = np.where(ramps.last >= ramps.first, share, 1 - share)
            level += np.sum(inside * (ramps.low + ramps.rise * shape(upward)), axis=-1)
        return level if level.ndim else float(level)

    @overload
    def hours_between(self, minute: float, *, seconds: float) -> float: ...
    @overload
    def hours_between(self, minute: FloatArray, *, seconds: FloatArray) -> FloatArray: ...
    def hours_between(self, minute: ArrayLike, *, seconds: ArrayLike) -> FloatArray | float:
        """Return the hours of full light in windows of `seconds` from clock `minute` [h].

        `minute` after midnight [min] and `seconds` zero or more [s], each scalar or array. The
        window may pass midnight and last many days. Exact.

        >>> DayCurve(((1320, 1), (1560, 1))).hours_between(1380, seconds=7200)
        2.0
        """
        start = np.asarray(minute, float) % MINUTES_A_DAY
        days, rest = np.divmod(np.asarray(seconds, float), SECONDS_A_DAY)
        end = start + rest / 60
        part = np.zeros(())
        for day in (-MINUTES_A_DAY, 0.0, MINUTES_A_DAY):
            part = part + (self._minutes_until(end + day) - self._minutes_until(start + day))
        hours: FloatArray = days * self.full_hours + part / 60
        return hours if np.ndim(hours) else float(hours)

    def hours_over(self, stretches: Iterable[Stretch]) -> float:
        """Return the hours of full light over several stretches of true time [h]."""
        return math.fsum(self.hours_between(s.minute, seconds=s.seconds) for s in stretches)

    def _minutes_until(self, minute: FloatArray) -> FloatArray:
        """Return minutes of full light from the curve's start until `minute`, not folded."""
        ramps, (_, area, _) = self.ramps, RAMPS[self.ramp]
        share = np.clip((np.asarray(minute)[..., None] - ramps.start) / ramps.length, 0, 1)
        rising = ramps.last >= ramps.first
        swept = np.where(rising, area(share), area(WHOLE) - area(1 - share))
        minutes: FloatArray = np.sum(
            ramps.length * (ramps.low * share + ramps.rise * swept), axis=-1
        )
        return minutes

    @cached_property
    def full_hours(self) -> float:
        """Hours of full light an ordinary day is worth [h]."""
        ramps, (_, area, _) = self.ramps, RAMPS[self.ramp]
        return math.fsum(ramps.length * (ramps.low + ramps.rise * area(WHOLE))) / 60

    @property
    def peak(self) -> float:
        """The highest level [1]."""
        return max((level for _, level in self.points), default=0.0)

    @property
    def photoperiod_hours(self) -> float:
        """Hours with any light [h]."""
        ramps = self.ramps
        return math.fsum(ramps.length[ramps.low + ramps.rise > 0]) / 60

    def hours_at_or_above(self, level: float) -> float:
        """Return the hours at `level` (above 0) or brighter [h]; exact."""
        ramps, (_, _, inverse) = self.ramps, RAMPS[self.ramp]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.clip((level - ramps.low) / ramps.rise, 0, 1)
        lit = np.where(ramps.rise > 0, 1 - inverse(share), ramps.low >= level)
        return math.fsum(ramps.length * lit) / 60

    @property
    def hours_above_half(self) -> float:
        """Hours at half of the peak or brighter [h]."""
        return self.hours_at_or_above(self.peak / 2) if self.peak > 0 else 0.0


def day_curve(
    points: Sequence[tuple[float, float]],
    *,
    ramp: str = "straight",
    moonlight: bool = False,
    name: str = "",
) -> DayCurve:
    """Return the DayCurve a keeper wants, through clock times 0 to 1440.

    `points` (minute after midnight [min], level 0 to 1 [1]); `ramp` a key of RAMPS. The times may
    pass midnight once. Only a curve named moonlight may burn around the clock, and it stays faint.
    Raises DayCurveError.

    >>> day_curve([(1320, 0), (60, 1), (240, 0)]).points
    ((1320.0, 0.0), (1500.0, 1.0), (1680.0, 0.0))
    """
    unfolded = unfold(points)
    problems = form_problems(unfolded, ramp=ramp) or rule_problems(unfolded, moonlight=moonlight)
    if problems:
        raise DayCurveError(problems)
    return DayCurve(unfolded, ramp=ramp, moonlight=moonlight, name=name)


def unfold(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return points whose minutes go on above 1440 where the clock passes midnight.

    `points` (minute after midnight, 0 to 1440 [min], level [1]). Raises DayCurveError where times
    do not ascend.
    """
    unfolded: list[tuple[float, float]] = []
    day, before = 0.0, -math.inf
    for minute, level in points:
        if not 0 <= minute <= MINUTES_A_DAY:
            raise DayCurveError(["A time lies between 00:00 and 24:00."])
        if minute < before:
            # A second step back, or one that passes the first time again, is no midnight.
            if day or minute > points[0][0]:
                raise DayCurveError(
                    [f"Times must ascend; {clock(minute)} comes after {clock(before)}."]
                )
            day = MINUTES_A_DAY
        unfolded.append((float(minute + day), level))
        before = minute
    if unfolded and unfolded[0][0] == MINUTES_A_DAY:
        unfolded = [(minute - MINUTES_A_DAY, level) for minute, level in unfolded]
    return tuple(unfolded)


def ramped_day(
    *,
    start_minute: float,
    day_hours: float,
    ramp_hours: float,
    ramp: str = "straight",
    name: str = "",
) -> DayCurve:
    """Return a day with a ramp at each end; a manual timer has ramps of no length.

    `start_minute` after midnight [min], `day_hours` from first to last light and `ramp_hours` of
    each ramp [h], `ramp` a key of RAMPS. Raises DayCurveError when two ramps do not fit into the
    day.

    >>> ramped_day(start_minute=540, day_hours=12, ramp_hours=2).full_hours
    10.0
    """
    if ramp_hours < 0 or 2 * ramp_hours > day_hours:
        raise DayCurveError(["Two ramps must fit into the day."])
    start, end = start_minute % MINUTES_A_DAY, start_minute % MINUTES_A_DAY + 60 * day_hours
    low = 0.0 if ramp_hours > 0 else 1.0
    corners = (start, low), (start + 60 * ramp_hours, 1.0), (end - 60 * ramp_hours, 1.0), (end, low)
    return DayCurve(corners if ramp_hours > 0 else corners[::3], ramp=ramp, name=name)


def clock(minute: float) -> str:
    """Return `minute` after midnight [min] as a clock reads them.

    >>> clock(1530)
    '01:30'
    """
    whole = round(minute) % int(MINUTES_A_DAY)
    return f"{whole // 60:02d}:{whole % 60:02d}"


def form_problems(points: Sequence[tuple[float, float]], *, ramp: str = "straight") -> list[str]:
    """Return why unfolded points cannot be summed, as plain sentences; none when they can.

    `points` (minute after midnight [min], level [1]), `ramp` a key of RAMPS.
    """
    if ramp not in RAMPS:
        return [f"A ramp is one of {', '.join(RAMPS)}."]
    if not points:
        return []
    minutes, levels = zip(*points, strict=True)
    if not all(math.isfinite(value) for value in (*minutes, *levels)):
        return ["Times and levels must be numbers."]
    problems = time_problems(minutes)
    problems += [
        f"A level is 0 to 100 %; {100 * level:g} % at {clock(minute)} is not."
        for minute, level in points
        if not 0 <= level <= 1
    ]
    return problems


def rule_problems(points: Sequence[tuple[float, float]], *, moonlight: bool) -> list[str]:
    """Return what breaks our own rules for a curve whose form is right.

    `points` (minute after midnight [min], level [1]), `moonlight` whether it is named so.
    """
    problems = []
    least, most = limits.DAY_POINTS_MIN, limits.DAY_POINTS_MAX
    if points and not least <= len(points) <= most:
        problems.append(f"A day curve has {least} to {most} points; this one has {len(points)}.")
    return problems + night_problems(points, moonlight=moonlight)


def time_problems(minutes: Sequence[float]) -> list[str]:
    """Return what is wrong with the order and range of the minutes of a curve [min]."""
    back = [
        f"Times must ascend; {clock(b)} comes after {clock(a)}."
        for a, b in pairwise(minutes)
        if b < a
    ]
    if back:
        return back
    if not 0 <= minutes[0] < MINUTES_A_DAY:
        return ["The first time lies between 00:00 and 24:00."]
    if minutes[-1] - minutes[0] > MINUTES_A_DAY:
        return ["A day schedule may not be longer than a day."]
    return []


def night_problems(points: Sequence[tuple[float, float]], *, moonlight: bool) -> list[str]:
    """Return what is wrong with the dark hours, or with the moonlight that fills them.

    `points` as in DayCurve: (minute after midnight [min], level [1]).
    """
    if moonlight:
        if max((level for _, level in points), default=0.0) <= limits.MOONLIGHT_LEVEL_MAX:
            return []
        return [f"Moonlight stays at {100 * limits.MOONLIGHT_LEVEL_MAX:g} % or below."]
    lit = sum(b[0] - a[0] for a, b in pairwise(points) if max(a[1], b[1]) > 0)
    if lit < MINUTES_A_DAY:
        return []
    return ["The night must be dark: leave some time without light, or name this moonlight."]


def stretches(
    start: float, end: float, offsets: Sequence[tuple[float, float]]
) -> tuple[Stretch, ...]:
    """Split true time into stretches with an even clock.

    `start`, `end`: instants [s] since any epoch that fell on a midnight of zero offset, whole
    numbers stay exact; `offsets`: (instant from which it holds [s], local clock minus epoch clock
    [s]) ascending, the first at or before `start`. Returns a tuple of Stretch.

    The clock goes forward an hour at 02:00, so this day is 23 h long:

    >>> stretches(0, 23 * 3600, [(0, 0), (2 * 3600, 3600)])
    (Stretch(minute=0.0, seconds=7200), Stretch(minute=180.0, seconds=75600))
    """
    if not offsets or offsets[0][0] > start:
        raise ValueError("The first offset must hold at the start.")
    ends = [begin for begin, _ in offsets[1:]] + [end]
    pieces = []
    for (begin, offset), until in zip(offsets, ends, strict=True):
        left, right = max(begin, start), min(until, end)
        if right > left:
            pieces.append(Stretch((left + offset) % SECONDS_A_DAY / 60, right - left))
    return tuple(pieces)


DARK = DayCurve(())
