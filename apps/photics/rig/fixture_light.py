"""What a fixture gives when little is stated of it, and what salt and dust take away."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm
from scipy.stats import t as student

from apps.photics.ground.arrays import ArrayLike
from apps.photics.rig.efficacy import EFFICACIES

# Share of the truth an interval must hold [1]: chosen, because the whole app states 90 %.
COVERAGE = 0.90
# A stated output holds within a tenth, an efficacy of the emitters within a fifth: drivers, lenses
# and heat take their part. Chosen, because no source gives them [1].
PPF_SPREAD = 0.10
EFFICACY_SPREAD = 0.20
# Days a loss is stated for [d]: chosen, because a month is what keepers think in.
DAYS_A_MONTH = 30.0


@dataclass(frozen=True)
class OutputEstimate:
    """Photons a fixture gives at full level, with a 90 % interval [umol/s]; where they are from."""

    ppf_umol_s: float
    low_umol_s: float
    high_umol_s: float
    words: str
    measured: bool = False  # by readings of its light; else stated of it


def output_estimate(
    *,
    kind: str = "led",
    watts: float | None = None,
    ppf_umol_s: float | None = None,
    efficacy_umol_j: float | None = None,
) -> OutputEstimate | None:
    """Return the OutputEstimate from the best of what is stated; None when nothing is.

    `kind`: one of EFFICACIES, "led", "tube" or "halide"; `watts` rated [W]; `ppf_umol_s` rated
    output [umol/s]; `efficacy_umol_j` [umol/J] counts with watts; each above zero, or None. Output
    is watts times efficacy; how far it may be off is our own choice.

    >>> output_estimate(watts=100, efficacy_umol_j=2.0).ppf_umol_s
    200.0
    """
    if ppf_umol_s:
        return spread(ppf_umol_s, by=PPF_SPREAD, words="the rated output")
    if not watts:
        return None
    if efficacy_umol_j:
        return spread(watts * efficacy_umol_j, by=EFFICACY_SPREAD, words="watts and efficacy")
    usual = EFFICACIES[kind]
    return OutputEstimate(
        watts * usual.usual,
        watts * usual.low,
        watts * usual.high,
        "watts alone: a wide guess from what is usual",
    )


def spread(ppf_umol_s: float, *, by: float, words: str) -> OutputEstimate:
    """Return the OutputEstimate, in `words`, of `ppf_umol_s` [umol/s], off `by` a part [1]."""
    value = float(ppf_umol_s)
    return OutputEstimate(value, value * (1 - by), value * (1 + by), words)


@dataclass(frozen=True)
class FoulingRate:
    """Light lost to salt and dust between cleanings: rate with its interval [1 per day, log]."""

    rate: float
    low: float
    high: float
    surveys: int

    @property
    def shows_loss(self) -> bool:
        """Whether the surveys show any loss at all: the interval lies above zero."""
        return self.low > 0

    @property
    def monthly_loss(self) -> tuple[float, float, float]:
        """Loss in 30 days, best and 90 % interval [1]."""
        best, low, high = (
            float(-np.expm1(-rate * DAYS_A_MONTH)) for rate in (self.rate, self.low, self.high)
        )
        return best, low, high

    def factor(self, days: float) -> tuple[float, float, float]:
        """Return what is left `days` [d] after a cleaning: best, low, high [1]."""
        best, low, high = (float(np.exp(-rate * days)) for rate in (self.rate, self.high, self.low))
        return best, low, high


def fouling_rate(days: ArrayLike, log_ratio: ArrayLike, deviation: ArrayLike) -> FoulingRate | None:
    """Estimate how salt and dust dim the light, from surveys made some time after a cleaning.

    `days` (n,) since the last cleaning [d]; `log_ratio` (n,) log of PAR measured for PAR expected
    of clean lights, over all points of a survey; `deviation` (n,) its standard deviation [1].
    Model: log ratio = -rate x days, weighted least squares through the origin, closed form; where
    two or more surveys scatter more than their deviations allow, the interval widens to that.
    Returns a FoulingRate, or None when no survey was made later than a cleaning.

    >>> round(fouling_rate([30, 60], [-0.03, -0.06], [0.02, 0.02]).rate, 9)
    0.001
    """
    since, ratio, spread_of = (np.asarray(a, float) for a in (days, log_ratio, deviation))
    if not (np.isfinite(since).all() and np.isfinite(ratio).all() and np.all(since >= 0)):
        raise ValueError("Days since a cleaning are zero or more, and every survey needs a ratio.")
    if not np.all(spread_of > 0):
        raise ValueError("Every survey needs a deviation above zero.")
    later = since > 0
    if not later.any():
        return None
    since, ratio, weight = since[later], ratio[later], spread_of[later] ** -2.0
    information = float(weight @ since**2)
    rate = float(-(weight @ (since * ratio)) / information)
    count, half = len(since), norm.ppf(0.5 + COVERAGE / 2)
    variance = 1 / information
    if count > 1:
        scatter = float(weight @ (ratio + rate * since) ** 2) / (count - 1)
        if scatter > 1:
            variance *= scatter
            half = student.ppf(0.5 + COVERAGE / 2, count - 1)
    half_width = float(half * np.sqrt(variance))
    return FoulingRate(rate, rate - half_width, rate + half_width, count)
