"""Is an effect of light of the size that matters likelier than none, and would these notes show it?

The effect may be prompt or late: each delay is weighed by a kernel stated beforehand (`delay.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from apps.photics.causes.delay import DELAY_WEEKS, kernel
from apps.photics.causes.exposure import CHANGE_LOG2
from apps.photics.causes.shock_model import Draws, ShockFit, ShockModel
from apps.photics.ground.arrays import FloatArray

# A finding is a p below this [1]. Chosen, because it is the custom.
FINDING_P = 0.05
# Chosen, because a share of so many draws is known to 3 in 100.
POWER_DRAWS = 300


@dataclass(frozen=True)
class Alternative:
    """One effect of light that is tested for: with a delay, and how much it is expected."""

    model: ShockModel
    parameters: FloatArray  # (k + 4,) [log odds]
    log_weight: float  # log of the expectation of its delay [1]


class RatioTest:
    """How much better an effect of the size tested for explains the events than none does.

    The likelihood ratio of that effect against none is the best test there is of the one against
    the other (Neyman & Pearson 1933, doi:10.1098/rsta.1933.0009) where the rest is known; of
    several effects, the ratios' mean weighed by how much each is expected. The rest is not known:
    so the ratio is cleared of what the other parameters explain, to the first order, and held
    against what the same tanks give by chance (a parametric bootstrap).
    """

    def __init__(
        self,
        model: ShockModel,
        null: ShockFit,
        n_draws: int,
        rng: np.random.Generator,
        *,
        effects: Sequence[float],
    ) -> None:
        """`effects` are the effects tested for [log odds per doubling], weighed alike."""
        self.model, self.null = model, null
        expected = kernel(model.weeks.n_tanks)
        self.alternatives = tuple(
            Alternative(
                late := model.after(delay),
                late.fit(effect, null.parameters).parameters,
                float(np.log(expected[delay])),
            )
            for delay in delays_that_differ(model)
            for effect in effects
        )
        draws = model.draws(null.parameters, n_draws, rng)
        ratio, nuisance = self.log_ratio(draws), model.nuisance_scores(null, draws)
        prior = np.diag(np.delete(model.weight, model.at)) + 1e-9 * np.eye(nuisance.shape[1])
        spread = nuisance.T @ nuisance / n_draws + prior
        self.slope = np.linalg.solve(spread, nuisance.T @ (ratio - ratio.mean())) / n_draws
        self.chance = np.sort(ratio - nuisance @ self.slope)

    def log_ratios(self, events: Draws) -> FloatArray:
        """Return each of m Alternatives' weighed log likelihood against none [1], (m, draws)."""
        none = self.model.log_likelihood(self.null.parameters, events)
        return np.array(
            [
                one.log_weight + one.model.log_likelihood(one.parameters, events) - none
                for one in self.alternatives
            ]
        )

    def log_ratio(self, events: Draws) -> FloatArray:
        """Return the log likelihood ratio of the effects against none for each draw, (draws,)."""
        ratio: FloatArray = np.logaddexp.reduce(self.log_ratios(events), axis=0)
        return ratio

    def likeliest_delay(self) -> int:
        """Return the place in DELAY_WEEKS of the delay that the events that happened speak for."""
        best = int(np.argmax(self.log_ratios(self.model.observed())[:, 0]))
        return self.alternatives[best].model.delay

    def statistic(self, events: Draws) -> FloatArray:
        """Return the log ratio of each draw (draws,), cleared of what other parameters explain."""
        return self.log_ratio(events) - self.model.nuisance_scores(self.null, events) @ self.slope

    def p_above(self, statistic: FloatArray) -> FloatArray:
        """Return the chance (draws,) of a statistic (draws,) this high or higher, ties half [1]."""
        tie = 1e-9 * (1 + np.abs(self.chance).max())
        below = np.searchsorted(self.chance, statistic - tie)
        upto = np.searchsorted(self.chance, statistic + tie)
        n = len(self.chance)
        chance: FloatArray = (n - (below + upto) / 2 + 0.5) / (n + 1)
        return chance


def delays_that_differ(model: ShockModel) -> list[int]:
    """Return the places in DELAY_WEEKS at which the light differed at all; no delay always."""
    spread = np.ptp(model.weeks.doses, axis=0)
    return [
        delay for delay in range(len(DELAY_WEEKS)) if delay == 0 or spread[delay] >= CHANGE_LOG2
    ]


def own_power(
    model: ShockModel, test: RatioTest, rng: np.random.Generator, *, ratio: float
) -> float:
    """Return the chance that a risk `ratio` per doubling [1] gives p below 0.05 with these notes.

    Simulated on the keeper's own tanks, corals, visits and light, with the other parameters as
    fitted; `model` a ShockModel and `test` its RatioTest.
    """
    events = model.draws(test.null.parameters, POWER_DRAWS, rng, beta=float(np.log(ratio)))
    return float(np.mean(test.p_above(test.statistic(events)) < FINDING_P))


def later_power(power: float, *, weeks: float, more_weeks: float) -> float:
    """Return the power [1] after `more_weeks` like the `weeks` so far, both [weeks].

    Information grows with time, so the normal deviate of a one-sided test grows with its root.
    Chosen, because no more is known of weeks to come.

    >>> round(later_power(0.4, weeks=30, more_weeks=10), 2)
    0.48
    """
    bar = norm.ppf(1 - FINDING_P)
    clipped = min(max(power, 0.001), 0.999)
    shift = (norm.ppf(clipped) + bar) * np.sqrt((weeks + more_weeks) / weeks)
    return float(norm.cdf(shift - bar))
