"""What a fixture gives when little is stated of it, and what age and salt take away."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm
from scipy.stats import t as student

# Share of the truth an interval must hold [1].
COVERAGE = 0.90
# A stated output holds within a tenth, an efficacy of the emitters within a fifth: drivers, lenses
# and heat take their part. House rule.
PPF_SPREAD = 0.10
EFFICACY_SPREAD = 0.20
# Watts alone: usual efficacy and its range by what shines [umol/J]. Trade knowledge from memory,
# no published source; the range is wide on purpose.
USUAL_EFFICACY = {"tube": (0.9, 0.6, 1.2), "led": (1.8, 1.0, 2.8)}
HOURS_A_STEP = 1000.0
DAYS_A_MONTH = 30.0


@dataclass(frozen=True)
class OutputEstimate:
    """Photons a fixture gives at full level, with a 90 % interval [umol/s]; where they are from."""

    ppf_umol_s: float
    low_umol_s: float
    high_umol_s: float
    words: str


def output_estimate(*, kind="led", watts=None, ppf_umol_s=None, efficacy_umol_j=None):
    """Return the OutputEstimate from the best of what is stated; None when nothing is.

    `kind`: "tube" or "led"; `watts` rated [W]; `ppf_umol_s` rated output [umol/s];
    `efficacy_umol_j` [umol/J] counts with watts.

    >>> output_estimate(watts=100, efficacy_umol_j=2.0).ppf_umol_s
    200.0
    """
    if ppf_umol_s:
        return spread(ppf_umol_s, PPF_SPREAD, "the rated output")
    if not watts:
        return None
    if efficacy_umol_j:
        return spread(watts * efficacy_umol_j, EFFICACY_SPREAD, "watts and efficacy")
    usual, low, high = (watts * efficacy for efficacy in USUAL_EFFICACY[kind])
    return OutputEstimate(usual, low, high, "watts alone: a wide guess from what is usual")


def spread(value, share, words):
    """Return an OutputEstimate that may be off by a share either way."""
    value = float(value)
    return OutputEstimate(value, value * (1 - share), value * (1 + share), words)


def aged_output(lamp_hours, *, loss_per_1000h):
    """Return what is left of a new tube's output after `lamp_hours`, scalar or array [1].

    The loss per 1,000 hours [1] compounds.

    >>> aged_output(2000, loss_per_1000h=0.1)
    0.81
    """
    if not 0 <= loss_per_1000h < 1:
        raise ValueError("The loss in 1,000 hours is from 0 to below 100 %.")
    if np.any(np.asarray(lamp_hours) < 0):
        raise ValueError("Hours of light cannot be below zero.")
    return (1 - loss_per_1000h) ** (lamp_hours / HOURS_A_STEP)


def hours_until(left, *, loss_per_1000h):
    """Return the hours of light until that share of new output is left [h]; None without loss.

    >>> round(hours_until(0.81, loss_per_1000h=0.1))
    2000
    """
    if not 0 < left <= 1 or not 0 <= loss_per_1000h < 1:
        raise ValueError("The share left lies above 0 and up to 1, the loss from 0 to below 1.")
    if loss_per_1000h == 0:
        return None
    return float(HOURS_A_STEP * np.log(left) / np.log(1 - loss_per_1000h))


@dataclass(frozen=True)
class Soiling:
    """Light lost to salt and dust between cleanings: rate with its interval [1 per day, log]."""

    rate: float
    low: float
    high: float
    surveys: int

    @property
    def shows_loss(self):
        """Whether the surveys show any loss at all: the interval lies above zero."""
        return self.low > 0

    @property
    def monthly_loss(self):
        """Loss in 30 days, best and 90 % interval [1]."""
        return tuple(
            float(-np.expm1(-rate * DAYS_A_MONTH)) for rate in (self.rate, self.low, self.high)
        )

    def factor(self, days):
        """Return what is left `days` after a cleaning: best, low, high [1]."""
        return tuple(float(np.exp(-rate * days)) for rate in (self.rate, self.high, self.low))


def soiling(days, log_ratio, deviation):
    """Estimate how salt and dust dim the light, from surveys made some time after a cleaning.

    `days` (n,) since the last cleaning; `log_ratio` (n,) log of PAR measured for PAR expected of
    clean lights, over all points of a survey; `deviation` (n,) its standard deviation. Model:
    log ratio = -rate x days, weighted least squares through the origin, closed form; where two
    or more surveys scatter more than their deviations say, the interval widens to the scatter.
    Returns a Soiling, or None when no survey was made later than a cleaning.

    >>> round(soiling([30, 60], [-0.03, -0.06], [0.02, 0.02]).rate, 9)
    0.001
    """
    days, ratio, deviation = (np.asarray(a, float) for a in (days, log_ratio, deviation))
    if not (np.isfinite(days).all() and np.isfinite(ratio).all() and np.all(days >= 0)):
        raise ValueError("Days since a cleaning are zero or more, and every survey needs a ratio.")
    if not np.all(deviation > 0):
        raise ValueError("Every survey needs a deviation above zero.")
    later = days > 0
    if not later.any():
        return None
    days, ratio, weight = days[later], ratio[later], deviation[later] ** -2.0
    information = float(weight @ days**2)
    rate = float(-(weight @ (days * ratio)) / information)
    count, half = len(days), norm.ppf(0.5 + COVERAGE / 2)
    variance = 1 / information
    if count > 1:
        scatter = float(weight @ (ratio + rate * days) ** 2) / (count - 1)
        if scatter > 1:
            variance *= scatter
            half = student.ppf(0.5 + COVERAGE / 2, count - 1)
    half_width = float(half * np.sqrt(variance))
    return Soiling(rate, rate - half_width, rate + half_width, count)
