"""Changing a day curve: mirror, shift, stretch, scale to a wanted dose, join groups."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.day.curve import MINUTES_A_DAY, DayCurve, DayCurveError
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.dose import dli_mol

# Pieces that stand in for one smooth ramp when curves of several ramps are joined: chosen, because
# the chord of
# a piece misses a half-sine or sin-squared ramp by at most (pi^2 / 2) / (8 x 256^2) = 1e-5.
PIECES_A_RAMP = 256


def shifted(curve: DayCurve, *, minutes: float) -> DayCurve:
    """Return the day begun `minutes` later (or earlier, below zero), round the clock [min].

    >>> shifted(DayCurve(((600, 1), (1200, 1))), minutes=-720).points
    ((1320.0, 1.0), (1920.0, 1.0))
    """
    if not curve.points:
        return curve
    first = curve.points[0][0]
    move = (first + minutes) % MINUTES_A_DAY - first
    return replace(curve, points=tuple((m + move, level) for m, level in curve.points))


def mirrored(curve: DayCurve) -> DayCurve:
    """Return the day run backwards within its own hours: the evening becomes the morning.

    >>> mirrored(DayCurve(((600, 0), (660, 1), (1200, 0)))).points
    ((600.0, 0.0), (1140.0, 1.0), (1200.0, 0.0))
    """
    if not curve.points:
        return curve
    ends = curve.points[0][0] + curve.points[-1][0]
    return replace(curve, points=tuple((ends - m, level) for m, level in reversed(curve.points)))


def stretched(curve: DayCurve, *, factor: float) -> DayCurve:
    """Return the day made longer or shorter about its middle.

    `factor` above zero [1]. Raises DayCurveError when it no longer fits into a day.

    >>> stretched(DayCurve(((600, 1), (1200, 1))), factor=0.5).points
    ((750.0, 1.0), (1050.0, 1.0))
    """
    if not factor > 0:
        raise DayCurveError(["A day is stretched by a factor above zero."])
    if not curve.points:
        return curve
    first, last = curve.points[0][0], curve.points[-1][0]
    middle = (first + last) / 2
    start = (middle + (first - middle) * factor) % MINUTES_A_DAY
    return replace(
        curve, points=tuple((start + (m - first) * factor, level) for m, level in curve.points)
    )


@dataclass(frozen=True)
class ScaledCurve:
    """A curve scaled to a wanted dose, what it reaches [mol m-2 d-1], and words when it cannot."""

    curve: DayCurve
    dli_mol: float
    factor: float
    clipped: bool
    words: str


def scaled_to_dli(curve: DayCurve, *, par_umol: float, wanted_dli_mol: float) -> ScaledCurve:
    """Return the ScaledCurve that gives the wanted dose where full light is `par_umol`.

    Every level is multiplied by one factor, so the day keeps its shape; where the peak would pass
    full light the factor stops there and the words say what is missing. Units: par_umol
    [umol m-2 s-1], doses [mol m-2 d-1]. Raises DayCurveError for a dark curve or no light.

    >>> day = DayCurve(((480, 0.5), (1080, 0.5)))
    >>> scaled_to_dli(day, par_umol=200, wanted_dli_mol=9).words
    'The brightest level is full light, and the day gives 7.2 of the 9 mol/m² wanted.'
    """
    if not (par_umol > 0 and curve.full_hours > 0):
        raise DayCurveError(["Without light there is nothing to scale."])
    if not wanted_dli_mol >= 0:
        raise DayCurveError(["A wanted dose is zero or more."])
    factor = wanted_dli_mol / dli_mol(par_umol, full_hours=curve.full_hours)
    clipped = factor * curve.peak > 1
    factor = 1 / curve.peak if clipped else factor
    # A product such as 0.3 x (1 / 0.3) may pass 1 by a rounding error.
    points = tuple((m, min(level * factor, 1.0)) for m, level in curve.points)
    scaled = replace(curve, points=points)
    reached = dli_mol(par_umol, full_hours=scaled.full_hours)
    words = (
        "The brightest level is full light, and the day gives "
        f"{reached:.3g} of the {wanted_dli_mol:.3g} mol/m² wanted."
        if clipped
        else ""
    )
    return ScaledCurve(scaled, reached, factor, clipped, words)


def joined(curves: Sequence[DayCurve], proportions: Sequence[float], *, name: str = "") -> DayCurve:
    """Return several channel groups as one curve of their PAR.

    `proportions` (n,): what each group adds to PAR at full level, zero or more, summing to at most
    1 [1]. Raises DayCurveError for others. Exact for straight ramps; a smooth ramp is drawn by
    short straight pieces (within 1e-5).

    >>> blue, white = DayCurve(((480, 1), (1200, 1))), DayCurve(((600, 1), (1080, 1)))
    >>> joined([blue, white], [0.75, 0.25]).full_hours
    11.0
    """
    if min(proportions, default=0) < 0 or sum(proportions) > 1 + 1e-9:
        raise DayCurveError(["The shares of the groups must be positive and sum to at most 1."])
    knots = sorted({minute % MINUTES_A_DAY for curve in curves for minute in knots_of(curve)})
    if not knots:
        return DayCurve((), name=name)
    left = np.array(knots)
    right = np.append(left[1:], left[0] + MINUTES_A_DAY)
    # Straight between knots: two inner values give the levels at both ends, steps included.
    quarter = (right - left) / 4
    early, late = (joint_level(curves, proportions, at) for at in (left + quarter, right - quarter))
    first, last = early - (late - early) / 2, late + (late - early) / 2
    # Rounding in the lines above must not leave a glimmer in the dark, nor a zero below zero.
    levels = np.clip(np.round([first, last], 12), 0, 1) + 0.0
    return DayCurve(tidied(left, right, *levels), name=name)


def joint_level(
    curves: Sequence[DayCurve], proportions: Sequence[float], minute: FloatArray
) -> FloatArray:
    """Return the level of several groups together, of the shape of the minutes [1].

    `proportions` (n,) what each adds [1], `minute` after midnight [min].
    """
    level = np.zeros(minute.shape)
    for curve, part in zip(curves, proportions, strict=True):
        level = level + part * curve.level_at(minute)
    return level


def tidied(
    left: FloatArray, right: FloatArray, first: FloatArray, last: FloatArray
) -> tuple[tuple[float, float], ...]:
    """Return the points of pieces around the clock, begun after the longest dark, dark ends cut.

    `left` and `right` (n,) their ends [min], `first` and `last` (n,) the levels there [1].
    """
    dark = (first == 0) & (last == 0)
    begin = (int(np.argmax(np.where(dark, right - left, -1))) + 1) % len(left) if dark.any() else 0
    points: list[tuple[float, float]] = []
    for index in (*range(begin, len(left)), *range(begin)):
        day = MINUTES_A_DAY if index < begin else 0.0
        if not dark[index]:
            points.append((float(left[index] + day), float(first[index])))
            points.append((float(right[index] + day), float(last[index])))
        elif points:
            points += [(points[-1][0], 0.0), (float(right[index] + day), 0.0)]
    # The dark after the last light needs no points: the curve ends with its light.
    while (
        len(points) > 1
        and points[-1][1] == 0
        and (points[-2][1] == 0 or points[-2][0] == points[-1][0])
    ):
        points.pop()
    late = MINUTES_A_DAY if points and points[0][0] >= MINUTES_A_DAY else 0.0
    points = [(minute - late, level) for minute, level in points]
    return tuple(p for p, before in zip(points, [None, *points], strict=False) if p != before)


def knots_of(curve: DayCurve) -> list[float]:
    """Return the minutes [min] between which a curve is straight, smooth ramps cut into pieces."""
    minutes = [minute for minute, _ in curve.points]
    if curve.ramp == "straight":
        return minutes
    ramps = curve.ramps
    part = np.linspace(0, 1, PIECES_A_RAMP + 1)[:, None]
    return minutes + list((ramps.start + ramps.length * part).ravel())


def lit_time(curves: Iterable[DayCurve]) -> DayCurve:
    """Return the curve that is 1 wherever any of several shines, however faintly, and dark else.

    >>> lit_time([DayCurve(((480, 0.2), (600, 0.2))), DayCurve(((540, 1), (720, 0)))]).points
    ((480.0, 1.0), (720.0, 1.0))
    """
    merged: list[list[float]] = []
    for start, end in sorted(piece for curve in curves for piece in lit_pieces(curve)):
        if merged and start <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([start, end])
    points: list[tuple[float, float]] = []
    for start, end in merged:
        if points:
            points += [(points[-1][0], 0.0), (start, 0.0)]
        points += [(start, 1.0), (end, 1.0)]
    return DayCurve(tuple(points))


def lit_pieces(curve: DayCurve) -> Iterator[tuple[float, float]]:
    """Yield (from, until) of a curve's pieces with any light, within 0 to 1440 [min]."""
    ramps = curve.ramps
    lit = ramps.low + ramps.rise > 0
    for start, end in zip(ramps.start[lit].tolist(), ramps.end[lit].tolist(), strict=True):
        for day in (0.0, MINUTES_A_DAY):
            first, last = max(start - day, 0.0), min(end - day, MINUTES_A_DAY)
            if last > first:
                yield first, last
