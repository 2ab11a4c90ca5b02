"""Two meters, or two ways to one light, at the same places: their ratio, and how sure it is."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from apps.photics.ground.arrays import ArrayLike, IntArray

# Chosen, because fewer pairs state nothing of their spread.
PAIRS_MIN = 3
# Chosen, because the whole app states 90 % [1].
CONFIDENCE = 0.90
# Chosen, because darker readings are mostly the meter's own noise [umol m-2 s-1].
DARK_UMOL = 2.0


@dataclass(frozen=True)
class Ratio:
    """second / first [1] with its 90 % interval, from the geometric mean of the pairs' ratios.

    `scatter_percent` is how far single pairs lie from it: the standard deviation in log, as
    percent. `passed_over` counts pairs too dark to compare.
    """

    ratio: float
    low: float
    high: float
    pairs: int
    scatter_percent: float
    passed_over: int

    @property
    def is_one(self) -> bool:
        """Whether the interval holds 1: no difference was shown."""
        return self.low <= 1.0 <= self.high


def ratio_of(first_umol: ArrayLike, second_umol: ArrayLike) -> Ratio | None:
    """Return the Ratio of paired readings, or None for fewer than PAIRS_MIN bright ones.

    `first_umol` and `second_umol` (n,) each, zero or more [umol m-2 s-1].

    A ratio is even about 1 in its logarithm, where the interval is Student's t for the mean.

    >>> round(ratio_of([100, 200, 300], [110, 220, 330]).ratio, 6)
    1.1
    """
    first, second = np.asarray(first_umol, float), np.asarray(second_umol, float)
    if first.shape != second.shape or first.ndim != 1:
        raise ValueError("Each reading needs its partner.")
    bright = (first >= DARK_UMOL) & (second >= DARK_UMOL)
    logs = np.log(second[bright]) - np.log(first[bright])
    if len(logs) < PAIRS_MIN:
        return None
    middle, deviation = float(logs.mean()), float(logs.std(ddof=1))
    half_width = student.ppf(0.5 + CONFIDENCE / 2, len(logs) - 1) * deviation / np.sqrt(len(logs))
    return Ratio(
        ratio=float(np.exp(middle)),
        low=float(np.exp(middle - half_width)),
        high=float(np.exp(middle + half_width)),
        pairs=len(logs),
        scatter_percent=100.0 * float(np.expm1(deviation)),
        passed_over=int((~bright).sum()),
    )


def common_places(first_cm: ArrayLike, second_cm: ArrayLike, *, within_cm: float) -> IntArray:
    """Return index pairs (k, 2) of places near each other, by their first index.

    `first_cm` (n, 3), `second_cm` (m, 3), `within_cm` the farthest that counts [cm]. Each place has
    one partner at most, the nearest first.
    """
    first = np.asarray(first_cm, float).reshape(-1, 3)
    second = np.asarray(second_cm, float).reshape(-1, 3)
    if not len(first) or not len(second):
        return np.empty((0, 2), int)
    apart = np.linalg.norm(first[:, None] - second[None], axis=2)
    pairs: list[tuple[int, int]] = []
    used: tuple[set[int], set[int]] = set(), set()
    for flat in np.argsort(apart, axis=None, kind="stable"):
        i, j = divmod(int(flat), len(second))
        if apart[i, j] > within_cm:
            break
        if i not in used[0] and j not in used[1]:
            used[0].add(i)
            used[1].add(j)
            pairs.append((i, j))
    return np.array(sorted(pairs), int).reshape(-1, 2)
