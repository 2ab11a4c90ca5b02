"""How a forecast did against readings taken later: its error, its intervals, what it left out."""

from dataclasses import dataclass

import numpy as np

from apps.photics.field.light_field import HALF_WIDTH
from apps.photics.ground.arrays import ArrayLike
from apps.photics.ground.normal import NORMAL_90
from apps.photics.rig.calibration import METER_NOISE

# Deviation of a median against that of a mean, and of a normal law against its middle absolute
# deviation [1]: by definition.
MEDIAN_WIDER, FROM_MIDDLE = 1.2533, 1.4826


@dataclass(frozen=True)
class ForecastScore:
    """n readings against what was forecast for their places.

    `ratio` is the middle of measured / predicted [1] with the 90 % interval of that middle.
    """

    n: int
    error_percent: float  # median of |predicted / measured - 1|
    covered_percent: float  # readings within the interval of a reading there
    ratio: float
    ratio_low: float
    ratio_high: float


def forecast_score(
    predicted_umol: ArrayLike,
    low_umol: ArrayLike,
    high_umol: ArrayLike,
    measured_umol: ArrayLike,
    *,
    scale_deviation: float = 0.0,
) -> ForecastScore:
    """Return the ForecastScore of predictions with 90 % intervals, arrays (n,) [umol m-2 s-1].

    The intervals are those of the light; a reading strays from it by the meter's noise, which is
    added. `scale_deviation`: how far the scales of forecast and readings may be apart by their
    meters [log]; the intervals hold it already, and as it moves all readings alike, no number of
    them makes the middle surer of it. Readings of zero have no ratio and are left out. Raises
    ValueError without any.

    >>> score = forecast_score([182.0, 90.0], [170.0, 80.0], [195.0, 100.0], [171.0, 91.0])
    >>> score.n, round(score.error_percent, 1), score.covered_percent
    (2, 3.8, 100.0)
    """
    arrays = (predicted_umol, low_umol, high_umol, measured_umol)
    predicted, low, high, measured = (np.asarray(a, float) for a in arrays)
    lit = (measured > 0) & (predicted > 0)
    if not lit.any():
        raise ValueError("There is no reading to set a forecast against.")
    predicted, low, high, measured = (a[lit] for a in (predicted, low, high, measured))
    change, noise = np.log(measured / predicted), HALF_WIDTH * METER_NOISE
    down, up = np.hypot(np.log(predicted / low), noise), np.hypot(np.log(high / predicted), noise)
    middle = float(np.median(change))
    spread = FROM_MIDDLE * float(np.median(np.abs(change - middle)))
    # A few readings that happen to agree are not surer than the meter.
    own = MEDIAN_WIDER * max(spread, METER_NOISE) / np.sqrt(len(change))
    half_width = NORMAL_90 * np.hypot(own, scale_deviation)
    return ForecastScore(
        n=len(change),
        error_percent=100.0 * float(np.median(np.abs(np.expm1(-change)))),
        covered_percent=100.0 * float(np.mean((change > -down) & (change < up))),
        ratio=float(np.exp(middle)),
        ratio_low=float(np.exp(middle - half_width)),
        ratio_high=float(np.exp(middle + half_width)),
    )
