"""How much of a place has the light of a band, and between which shares that surely lies."""

from dataclasses import dataclass

import numpy as np

from apps.lightmap.logged_factors import without_common
from apps.photics.ground.arrays import BoolArray, FloatArray

# Places of what all points have in common at which shares are taken: our own choice.
COMMON_STEPS = 9


@dataclass(frozen=True)
class BandShare:
    """The share of a place within a band, as likeliest, and the least and most it may be [%]."""

    percent: float
    surely_percent: float
    perhaps_percent: float


def band_share(
    par_umol: FloatArray,
    low_umol: FloatArray,
    high_umol: FloatArray,
    weight: FloatArray,
    *,
    band: tuple[float, float],
    common_log: float = 0.0,
) -> BandShare:
    """Return the BandShare of points, arrays of one shape [umol m-2 s-1], by their weight [1].

    `band` is (low, high) [umol m-2 s-1]. `common_log` is half the width that all points' intervals
    have in common [log]: it moves them up or down at once, so shares are taken at each of its
    places and the least and the most of them count. Point by point it would count as if some were
    up while others are down.
    """
    least, most = band

    def percent(mask: BoolArray) -> float:
        return 100.0 * float((weight * mask).sum() / weight.sum())

    low, high = without_common(par_umol, low_umol, high_umol, common_log)
    places = np.exp(np.linspace(-common_log, common_log, COMMON_STEPS if common_log else 1))
    return BandShare(
        percent((par_umol >= least) & (par_umol <= most)),
        min(percent((f * low >= least) & (f * high <= most)) for f in places),
        max(percent((f * high >= least) & (f * low <= most)) for f in places),
    )
