"""Many looks at once: how many of the findings shown are likely to be chance."""

import numpy as np
from scipy.stats import false_discovery_control

from apps.photics.ground.arrays import ArrayLike, FloatArray


def benjamini_hochberg(p_values: ArrayLike) -> FloatArray:
    """Return the q value of each p value, array of the same shape; missing ones stay missing.

    `p_values` of any shape [1], nan where one is missing. A finding with q at or below 0.05 belongs
    to a list of which at most 5 % are expected to be chance, for p values that do not depend on
    each other or rise together. Raises ValueError outside 0 to 1. Benjamini & Hochberg 1995, J R
    Stat Soc B 57:289-300.

    >>> benjamini_hochberg([0.01, 0.02, 0.9]).round(3).tolist()
    [0.03, 0.03, 0.9]
    """
    p = np.asarray(p_values, float)
    if np.any((p < 0) | (p > 1)):
        raise ValueError("A p value lies between 0 and 1.")
    q = np.full(p.shape, np.nan)
    known = np.isfinite(p)
    if known.any():
        q[known] = false_discovery_control(p[known], method="bh")
    return q
