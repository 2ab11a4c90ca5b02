"""How sure a light is after changes whose factor is a keeper's own estimate."""

import math
from collections.abc import Iterable

import numpy as np

from apps.lighting.history import Change
from apps.photics.ground.arrays import FloatArray, FloatOrArray
from apps.photics.ground.normal import NORMAL_90

# What a keeper's own factor of a light change is worth, as a deviation in log PAR.
# House rule: "a fifth less" is right to about a tenth.
CHANGE_LOG_DEVIATION = 0.10
DARK_UMOL = 1e-9


def guesses(changes: Iterable[Change]) -> float:
    """Return how many of a keeper's guesses Changes stand for [1], by their squares.

    A cover whose transmission is stated or measured is a small part of one.
    """
    return sum((deviation_of(change) / CHANGE_LOG_DEVIATION) ** 2 for change in changes)


def deviation_of(change: Change) -> float:
    """Return how far the factor of a Change that is no part of the fixtures may be off [log]."""
    own = change.factor_deviation
    return CHANGE_LOG_DEVIATION if own is None else own


def widened(
    par_umol: FloatOrArray, low_umol: FloatOrArray, high_umol: FloatOrArray, changes: float
) -> tuple[FloatOrArray, FloatOrArray]:
    """Return the 90 % interval widened by `changes` factors that a keeper estimated.

    Scalars or arrays of one shape [umol m-2 s-1].
    """
    return with_common(par_umol, low_umol, high_umol, guesses_log(changes))


def guesses_log(changes: float) -> float:
    """Return half the width that so many factors a keeper estimated bring to all points [log]."""
    return NORMAL_90 * CHANGE_LOG_DEVIATION * math.sqrt(changes)


def with_common(
    par_umol: FloatOrArray, low_umol: FloatOrArray, high_umol: FloatOrArray, common_log: float
) -> tuple[FloatOrArray, FloatOrArray]:
    """Return intervals widened by what all points have in common.

    Scalars or arrays of one shape [umol m-2 s-1]; `common_log` half the width of that part [log].
    """
    if common_log == 0:
        return low_umol, high_umol
    # In the dark there is nothing to be unsure of.
    par, low, high = (np.maximum(v, DARK_UMOL) for v in (par_umol, low_umol, high_umol))
    down = np.hypot(np.log(par / low), common_log)
    up = np.hypot(np.log(high / par), common_log)
    return par_umol * np.exp(-down), par_umol * np.exp(up)


def without_common(
    par_umol: FloatArray, low_umol: FloatArray, high_umol: FloatArray, common_log: float
) -> tuple[FloatArray, FloatArray]:
    """Return intervals without what all points have in common, as `with_common` put it in.

    Arrays of one shape [umol m-2 s-1]; `common_log` half the width of the common part [log].
    """
    if common_log == 0:
        return low_umol, high_umol
    par, low, high = (np.maximum(v, DARK_UMOL) for v in (par_umol, low_umol, high_umol))
    down, up = (np.maximum(np.log(v) ** 2 - common_log**2, 0.0) for v in (par / low, high / par))
    return par_umol * np.exp(-np.sqrt(down)), par_umol * np.exp(np.sqrt(up))
