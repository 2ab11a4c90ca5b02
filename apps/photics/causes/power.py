"""What these very notes could show: the chance of finding an effect of a given size."""

import numpy as np
from scipy.stats import norm

FINDING_P = 0.05
POWER_DRAWS = 300


def own_power(model, test, rng, *, ratio):
    """Return the chance that a risk `ratio` per doubling gives p below 0.05 with these notes.

    Simulated on the keeper's own tanks, corals, visits and light, with the other parameters as
    found; `model` a ShockModel and `test` its RatioTest.
    """
    events = model.draws(test.null.parameters, POWER_DRAWS, rng, beta=np.log(ratio))
    return float(np.mean(test.p_above(test.statistic(events)) < FINDING_P))


def later_power(power, *, weeks, more_weeks):
    """Return the power after `more_weeks` like the `weeks` so far.

    Information grows with time, so the normal deviate of a one-sided test grows with its root.

    >>> round(later_power(0.4, weeks=30, more_weeks=10), 2)
    0.48
    """
    bar = norm.ppf(1 - FINDING_P)
    clipped = min(max(power, 0.001), 0.999)
    shift = (norm.ppf(clipped) + bar) * np.sqrt((weeks + more_weeks) / weeks)
    return float(norm.cdf(shift - bar))
