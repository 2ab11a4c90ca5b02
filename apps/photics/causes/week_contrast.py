"""The effect of light among corals of one tank and week, in parts that add up over tanks.

Corals of one tank and week share the water, so whatever struck all of them drops out. The exact
conditional log likelihood on a fixed grid of effects is a handful of numbers a tank; the sum over
tanks is that of all together, and says nothing of any one.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

# The grid of effects [log odds per doubling]: odds from x 1/50 to x 50.
EFFECTS = np.linspace(-3.9, 3.9, 79)
DROP_95 = chi2.ppf(0.95, 1) / 2
FINE = 20  # points between two of the grid when an end is looked for


@dataclass(frozen=True)
class PooledEffect:
    """Odds per doubling with 95 % interval; an end beyond the grid is 0 or inf."""

    ratio: float
    low: float
    high: float


def week_log_likelihood(dose_log2, event, stratum):
    """Return the conditional log likelihood of each of EFFECTS, (79,), at most 0.

    `dose_log2` (n,) light against what was used to, `event` (n,) 0/1, `stratum` (n,) labels of
    tank-weeks. Strata without event, without others, or without a difference add nothing.
    References as in `conditional_logit`.
    """
    dose, event = np.asarray(dose_log2, float), np.asarray(event).astype(bool)
    stratum, total = np.asarray(stratum), np.zeros(len(EFFECTS))
    for label in np.unique(stratum[event]):
        here = stratum == label
        x, hit = dose[here], event[here]
        if hit.all() or x.max() - x.min() < 1e-9:
            continue
        x = x - x.mean()
        weight = np.exp(EFFECTS[:, None] * x)  # (effects, corals)
        total += EFFECTS * x[hit].sum() - np.log(subset_sum(weight, int(hit.sum())))
    return total


def subset_sum(weight, m):
    """Return for each row of `weight` (b, n) the sum over all m-subsets of their products, (b,)."""
    sums = np.zeros((m + 1, len(weight)))
    sums[0] = 1.0
    for column in weight.T:
        sums[1:] += column * sums[:-1]
    return sums[m]


def pooled_effect(log_likelihood):
    """Return the PooledEffect of a sum of `week_log_likelihood`s, None where it says nothing.

    The interval is where the log likelihood lies within 1.92 of its top (likelihood ratio).
    """
    value = np.asarray(log_likelihood, float)
    if np.ptp(value) < 1e-9:
        return None
    fine = np.linspace(EFFECTS[0], EFFECTS[-1], FINE * (len(EFFECTS) - 1) + 1)
    curve = parabolic(value, fine)
    top = int(np.argmax(curve))
    inside = np.flatnonzero(curve >= curve[top] - DROP_95)
    low, high = inside[0], inside[-1]
    return PooledEffect(
        ratio=float(np.exp(fine[top])),
        low=0.0 if low == 0 else float(np.exp(fine[low])),
        high=np.inf if high == len(fine) - 1 else float(np.exp(fine[high])),
    )


def parabolic(value, at):
    """Return values on EFFECTS carried to points between by parabolas through the nearest three."""
    step = EFFECTS[1] - EFFECTS[0]
    k = np.clip(np.rint((at - EFFECTS[0]) / step).astype(int), 1, len(EFFECTS) - 2)
    t = (at - EFFECTS[k]) / step
    before, here, after = value[k - 1], value[k], value[k + 1]
    return here + t * (after - before) / 2 + t**2 * (after - 2 * here + before) / 2
