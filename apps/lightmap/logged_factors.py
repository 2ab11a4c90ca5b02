"""How sure a light is after changes whose factor is a keeper's own estimate."""

import math

import numpy as np

from apps.photics.ground.arrays import FloatOrArray

# What a keeper's own factor of a light change is worth, as a deviation in log PAR.
# House rule: "a fifth less" is right to about a tenth.
CHANGE_LOG_DEVIATION = 0.10
# 90 % of a normal distribution lies within so many deviations.
NORMAL_90 = 1.645
DARK_UMOL = 1e-9


def widened(
    par_umol: FloatOrArray, low_umol: FloatOrArray, high_umol: FloatOrArray, changes: int
) -> tuple[FloatOrArray, FloatOrArray]:
    """Return the 90 % interval widened by `changes` factors that a keeper estimated.

    Scalars or arrays of one shape [umol m-2 s-1].
    """
    if changes == 0:
        return low_umol, high_umol
    extra = NORMAL_90 * CHANGE_LOG_DEVIATION * math.sqrt(changes)
    # In the dark there is nothing to be unsure of.
    par, low, high = (np.maximum(v, DARK_UMOL) for v in (par_umol, low_umol, high_umol))
    down = np.hypot(np.log(par / low), extra)
    up = np.hypot(np.log(high / par), extra)
    return par_umol * np.exp(-down), par_umol * np.exp(up)
