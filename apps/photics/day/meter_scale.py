"""How far a meter's whole scale may be off, by its own uncertainty and by what checks showed.

A meter's scale is the log of what its values must be multiplied by to give PAR. Before any check
it is a normal law around the meter's own factor; a check against a reference and a comparison of
two meters each state a difference with a deviation. All together are a linear Gaussian model,
whose posterior is worked out in closed form (Rasmussen & Williams 2006, section 2.1).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, FloatArray

# How far one reading of a hand-held meter strays from the next at one place [log]: chosen for
# flicker, tilt and rounding, as the fit of a light field takes it.
READING_NOISE = 0.05
# What stands for a scale that nobody stated [log]: chosen wide, so that checks alone decide.
UNKNOWN = 10.0
# Wider than this a posterior is no knowledge of the scale [log]: our own choice.
KNOWN_MOST = 0.5


@dataclass(frozen=True)
class MeterComparison:
    """That the scale of meter `first` lies `log_ratio` above that of `second` [log].

    Meters by their number from 0; `second` is None for a reference, whose scale is 0. `deviation`
    is that of the difference, the reference's own uncertainty in it [log].
    """

    first: int
    second: int | None
    log_ratio: float
    deviation: float


def ratio_with_deviation(own_umol: ArrayLike, other_umol: ArrayLike) -> tuple[float, float]:
    """Return the log of other / own and its deviation [log], from pairs of values.

    `own_umol` and `other_umol` (n,) above zero, read at the same places, at least one pair. Mean of
    the logs; a few pairs that happen to agree are not surer than hand-held meters.

    >>> ratio_with_deviation([100.0], [100.0])
    (0.0, 0.05)
    """
    logs = np.log(np.asarray(other_umol, float)) - np.log(np.asarray(own_umol, float))
    scatter = float(logs.std(ddof=1)) if len(logs) > 1 else 0.0
    return float(logs.mean()), max(scatter, READING_NOISE) / float(np.sqrt(len(logs)))


def scale_posterior(
    scales: ArrayLike, deviations: ArrayLike, comparisons: Sequence[MeterComparison]
) -> tuple[FloatArray, FloatArray]:
    """Return mean (m,) and covariance (m, m) of meters' scales after all comparisons [log].

    `scales` (m,) before them, `deviations` (m,) of those, nan where nobody stated one [log].

    >>> mean, covariance = scale_posterior([0, 0], [0.05, 0.05], [MeterComparison(0, 1, 0.1, 0)])
    >>> mean.round(3).tolist(), np.sqrt(covariance[0, 0]).round(4).item()
    ([0.05, -0.05], 0.0354)
    """
    mean = np.asarray(scales, float)
    own = np.asarray(deviations, float)
    covariance = np.diag(np.where(np.isnan(own), UNKNOWN, own) ** 2)
    if not comparisons:
        return mean, covariance
    rows = np.zeros((len(comparisons), len(mean)))
    for row, one in zip(rows, comparisons, strict=True):
        row[one.first] += 1.0
        if one.second is not None:
            row[one.second] -= 1.0
    noise = np.array([max(one.deviation, 1e-6) ** 2 for one in comparisons])
    seen = rows @ covariance @ rows.T + np.diag(noise)
    gain = np.linalg.solve(seen, rows @ covariance).T
    misfit = np.array([one.log_ratio for one in comparisons]) - rows @ mean
    return mean + gain @ misfit, covariance - gain @ rows @ covariance
