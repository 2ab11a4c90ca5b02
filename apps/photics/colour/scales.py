"""Scales of a measured colour: pale, brown, different; each with its 90 % interval."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import chroma, hue_deg
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90

# The 90th percentile of chi-square with three degrees of freedom, exact from its table.
CHI2_3_90 = 6.2514
# The hue of brown, between red at 0 and yellow at 90 [degrees]. Chosen, because browns
# lie between them, nearer to yellow; chroma counts by half, for the reason under `paleness`.
BROWN_DEG = 70.0
CHROMA_OF_PALENESS = 0.5


def paleness(lab: ArrayLike) -> FloatArray:
    """Return how near to white CIELAB `lab` (..., 3) is, (...) [0 to 100]: up is paler.

    100 less the distance in CIELAB to white (L* 100, no chroma), chroma counted by half: white is
    100, black 0. That the distance to a white patch in the same photo follows the density of
    symbionts is published (a recent preprint, seen in summary only); the half is our own choice, so
    that a coral of vivid host colour that loses its symbionts is still called paler.
    """
    colour = np.asarray(lab, float)
    away = np.hypot(100.0 - colour[..., 0], CHROMA_OF_PALENESS * chroma(colour))
    pale: FloatArray = np.maximum(100.0 - away, 0.0)
    return pale


def browning(lab: ArrayLike) -> FloatArray:
    """Return how dark and brown CIELAB `lab` (..., 3) is, (...): up is browner; white 0, black 50.

    Half the sum of the darkness (100 - L*) and of the part of a*, b* that points to brown, at a
    hue of BROWN_DEG. Our own choice: symbionts darken a coral and turn it towards brown together.
    Compares a coral with itself, not with one of another colour.
    """
    colour = np.asarray(lab, float)
    angle = np.radians(BROWN_DEG)
    toward = colour[..., 1] * np.cos(angle) + colour[..., 2] * np.sin(angle)
    brown: FloatArray = ((100.0 - colour[..., 0]) + toward) / 2.0
    return brown


# Takes colours (..., 3) and returns a number of each (...).
ColourFunction = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Value:
    """A number with the ends of its 90 % interval, in the unit of its scale."""

    value: float
    low: float
    high: float


def value_of(
    function: ColourFunction, lab: FloatArray, covariance: FloatArray, *, least: float = -np.inf
) -> Value:
    """Return the Value of a function of CIELAB, by its slope at `lab` (3,).

    `covariance` (3, 3) that of `lab`; the low end is `least` or more, in the function's unit.
    """
    value = float(function(lab))
    half_width = NORMAL_90 * deviation_along(function, lab, covariance)
    return Value(value, max(value - half_width, least), value + half_width)


def deviation_along(function: ColourFunction, lab: FloatArray, covariance: FloatArray) -> float:
    """Return the standard deviation of a function of CIELAB at `lab` (3,), in its unit.

    `covariance` (3, 3) that of `lab`, to first order: the law of propagation of errors. `function`
    takes colours (..., 3), many at once.
    """
    step = 0.05
    values = function(lab + step * np.concatenate([np.eye(3), -np.eye(3)]))
    slope: FloatArray = (values[:3] - values[3:]) / (2 * step)
    return float(np.sqrt(max(float(slope @ covariance @ slope), 0.0)))


def lightness_of(lab: FloatArray, covariance: FloatArray) -> Value:
    """Return the lightness L* [0 to 100] of `lab` (3,) with `covariance` (3, 3) as a Value."""
    return value_of(lambda colour: colour[..., 0], lab, covariance)


def chroma_of(lab: FloatArray, covariance: FloatArray) -> Value:
    """Return the chroma C*ab [CIELAB] of `lab` (3,) with `covariance` (3, 3) as a Value."""
    return value_of(chroma, lab, covariance, least=0.0)


def hue_of(lab: FloatArray) -> float:
    """Return the hue angle of `lab` (3,) [degrees, 0 to 360]."""
    return float(hue_deg(lab))


def paleness_of(lab: FloatArray, covariance: FloatArray) -> Value:
    """Return the `paleness` of CIELAB `lab` (3,) with `covariance` (3, 3) as a Value."""
    return value_of(paleness, lab, covariance, least=0.0)


def browning_of(lab: FloatArray, covariance: FloatArray) -> Value:
    """Return the `browning` of CIELAB `lab` (3,) with `covariance` (3, 3) as a Value."""
    return value_of(browning, lab, covariance)


def difference_of(lab: FloatArray, base_lab: FloatArray, covariance: FloatArray) -> Value:
    """Return dE00 of `lab` (3,) from `base_lab` (3,) [both CIELAB] as a Value.

    `covariance` (3, 3) [CIELAB squared] is that of their difference. The low end is 0 where the two
    can't be told apart: their difference lies within the ellipsoid of 90 %. Else the slope is taken
    along the way from the baseline. By the law of propagation of errors and of chi-square.
    """
    value = float(ciede2000(base_lab, lab))
    moved = np.asarray(lab) - base_lab
    apart = float(moved @ np.linalg.solve(covariance, moved)) > CHI2_3_90
    if apart:
        half = NORMAL_90 * deviation_along(
            lambda colour: ciede2000(base_lab, colour), lab, covariance
        )
        return Value(value, max(value - half, 0.0), value + half)
    # The farthest a colour within the errors may lie, along the axis where that is most.
    values, axes = np.linalg.eigh(covariance)
    ends = [lab + side * NORMAL_90 * np.sqrt(v) * axis
            for v, axis in zip(values, axes.T, strict=True) for side in (-1, 1)]  # fmt: skip
    return Value(value, 0.0, max(float(ciede2000(base_lab, end)) for end in ends))
