"""The effect of light among corals of one tank and week, in parts that add up over tanks.

Corals of one tank and week share the water, so whatever struck all of them drops out. The exact
conditional log likelihood on a fixed grid of effects is a handful of numbers a tank; the sum over
tanks is that of all together, and says nothing of any one. The likelihood: Breslow & Day 1980, as
in `conditional_logit`.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from apps.photics.ground.arrays import ArrayLike, FloatArray

# The grid of effects [log odds per doubling]. Chosen, because odds beyond x 1/50 to x 50 would say
# no more to a keeper.
EFFECTS = np.linspace(-3.9, 3.9, 79)
# How far the log likelihood falls to an end of a 95 % interval (Wilks 1938, Ann Math Stat
# 9:60; from memory).
DROP_95 = chi2.ppf(0.95, 1) / 2
# Points between two of the grid when an end is looked for. Chosen, because ends are printed to two
# digits.
FINE = 20


@dataclass(frozen=True)
class PooledEffect:
    """Odds per doubling with 95 % interval [1]; an end beyond the grid is 0 or inf."""

    ratio: float
    low: float
    high: float


def week_log_likelihood(dose_log2: ArrayLike, event: ArrayLike, stratum: ArrayLike) -> FloatArray:
    """Return the conditional log likelihood of each of EFFECTS, (79,), at most 0.

    `dose_log2` (n,) light against what was used to [log2], `event` (n,) 0/1, `stratum` (n,) labels
    of tank-weeks. Strata without event, without others, or without a difference add nothing.
    References as in `conditional_logit`.
    """
    dose, happened = np.asarray(dose_log2, float), np.asarray(event).astype(bool)
    labels, total = np.asarray(stratum), np.zeros(len(EFFECTS))
    for label in np.unique(labels[happened]):
        here = labels == label
        x, hit = dose[here], happened[here]
        if hit.all() or x.max() - x.min() < 1e-9:
            continue
        x = x - x.mean()
        weight = np.exp(EFFECTS[:, None] * x)  # (effects, corals)
        total += EFFECTS * x[hit].sum() - np.log(subset_sum(weight, int(hit.sum())))
    return total


def subset_sum(weight: FloatArray, m: int) -> FloatArray:
    """Return for each row of `weight` (b, n) the sum over all m-subsets of products, (b,) [1]."""
    sums = np.zeros((m + 1, len(weight)))
    sums[0] = 1.0
    for column in weight.T:
        sums[1:] += column * sums[:-1]
    of_m: FloatArray = sums[m]
    return of_m


def pooled_effect(log_likelihood: ArrayLike) -> PooledEffect | None:
    """Return the PooledEffect of a sum of `week_log_likelihood`s (79,), None where it says nothing.

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


def parabolic(value: FloatArray, at: FloatArray) -> FloatArray:
    """Return a value (79,) [1] on EFFECTS at points between, (p,), by parabolas through three.

    `at` (p,) [log odds per doubling].
    """
    step = EFFECTS[1] - EFFECTS[0]
    k = np.clip(np.rint((at - EFFECTS[0]) / step).astype(int), 1, len(EFFECTS) - 2)
    t = (at - EFFECTS[k]) / step
    before, here, after = value[k - 1], value[k], value[k + 1]
    between: FloatArray = here + t * (after - before) / 2 + t**2 * (after - 2 * here + before) / 2
    return between
