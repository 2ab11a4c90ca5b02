"""Risk of an event from light, in tanks whose water now and then strikes every coral at once.

In a tank-week an unseen shock may multiply every coral's odds. How often and how strongly is fitted
to the data with weak expectations, so a cluster of events in one week counts as one misfortune and
not as many. Weeks in which the light of a good part of the tank changed have a level and a shock
rate of their own: then hands were in the water, which proves nothing against the light. What
remains speaks: brighter against dimmer corals in one week, large steps against small ones, rises
against falls, and the weeks after. Chosen,
because corals of one tank share what no keeper sees.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit
from scipy.stats import chi2

from apps.photics.causes.tank_weeks import TankWeeks
from apps.photics.ground.arrays import FloatArray

# Expectations as mean and standard deviation: log odds of a shock in a plain week and in a week
# of a light change, log of its strength. Chosen, because shocks are rare, and about sixfold.
SHOCK_LOGIT = (-5.0, 1.5)
CHANGE_SHOCK_LOGIT = (-3.0, 1.5)
# Chosen, because a keeper who logs water events leaves no more of them unseen than others.
LOGGED_SHOCK_LOGIT = (-5.0, 1.5)
SHOCK_LOG = (np.log(6.0), 0.6)
# Spread expected of the tanks' own levels, of a light change's own level, of a water event's
# effect, and of the effect of a doubling [log odds]. Chosen, because they are wide: tanks differ up
# to fourfold, and an effect may be as strong as it likes.
TANK_SPREAD, CHANGE_SPREAD, WATER_SPREAD, LIGHT_SPREAD = 0.7, 1.0, 2.0, 3.0
# When a fit and an end of an interval are near enough. Chosen, because the log likelihood then
# misses by less than 0.001, the end by about 1 % of its error.
GRADIENT_SMALL, PROFILE_CLOSE, PROFILE_STEPS = 5e-3, 0.02, 12
# Simulated coral-visits held at a time. Chosen, because they take 16 MB.
CHUNK_ROWS = 2_000_000
# The least curvature that a first step is taken by. Chosen, because a flatter one leaps too far.
CURVE_MIN = 0.05


@dataclass(frozen=True)
class Draws:
    """Events of many simulated worlds, or of the one that happened, by what the odds rest on."""

    counts: FloatArray  # (draws, g) events in each tank-week [1]
    levels: FloatArray  # (draws, k) the design's columns, summed over the events [1]
    doses: FloatArray  # (draws, w) the doses of each delay, summed over the events [log2]


@dataclass(frozen=True)
class ShockFit:
    """Parameters (k + 4,) [log odds] at the best fit and the penalised log likelihood there."""

    parameters: FloatArray
    log_likelihood: float


class ShockModel:
    """The likelihood of the events of a TankWeeks, with the doublings `dose` as its question."""

    def __init__(self, weeks: TankWeeks, delay: int = 0) -> None:
        """The dose in question is that of the place `delay` in DELAY_WEEKS."""
        self.weeks, self.starts = weeks, weeks.starts
        self.week, self.event = weeks.week, weeks.event
        self.delay, self.dose = delay, weeks.doses[:, delay]
        self.logged = bool(weeks.water_events.any())
        self.own_level = weeks.changed & (not self.logged)
        self.design, spreads = self.levels()  # (n, k)
        plain = LOGGED_SHOCK_LOGIT if self.logged else SHOCK_LOGIT
        expected = (plain, CHANGE_SHOCK_LOGIT, SHOCK_LOG)
        k: int = self.design.shape[1]
        self.at = k  # place of the light's effect
        self.centre = np.r_[np.zeros(k + 1), [mean for mean, _ in expected]]
        self.weight = 1 / np.r_[spreads, LIGHT_SPREAD, [sd for _, sd in expected]] ** 2
        self.start = self.centre.copy()
        self.metric: FloatArray | None = None
        proportion = np.clip(self.event.mean(), 1e-3, 0.9)
        self.start[0] = np.log(proportion / (1 - proportion))

    def after(self, delay: int) -> "ShockModel":
        """Return the same model with the dose of the place `delay` in DELAY_WEEKS in question."""
        return ShockModel(self.weeks, delay)

    def levels(self) -> tuple[FloatArray, list[float]]:
        """Return the columns (n, k) of what sets a level [1], and their spreads (k,) [log odds]."""
        weeks = self.weeks
        columns: list[FloatArray] = [np.ones(len(weeks.week))]
        spreads = [np.inf]
        n_tanks = weeks.n_tanks
        if n_tanks > 1:
            columns += list((weeks.tank[:, None] == np.arange(n_tanks)).T.astype(float))
            spreads += [TANK_SPREAD] * n_tanks
        if self.logged:
            self.water_place = len(columns)
            columns.append(weeks.water_events[weeks.week])
            spreads.append(WATER_SPREAD)
        if self.own_level.any():
            columns.append(self.own_level.astype(float)[weeks.week])
            spreads.append(CHANGE_SPREAD)
        spreads += weeks.levels.spreads.tolist()
        return np.column_stack([*columns, weeks.levels.columns]), spreads

    def negative(self, theta: FloatArray) -> tuple[float, FloatArray]:
        """Return minus the penalised log likelihood [1] and its gradient at theta, (k + 4,)."""
        k, starts, event = self.at, self.starts, self.event
        eta = self.design @ theta[:k] + self.dose * theta[k]
        struck = eta + theta[k + 3]
        chance = np.where(self.own_level, theta[k + 2], theta[k + 1])
        calm = np.add.reduceat(event * eta - np.logaddexp(0, eta), starts)
        shock = np.add.reduceat(event * struck - np.logaddexp(0, struck), starts)
        a, b = calm - np.logaddexp(0, chance), shock - np.logaddexp(0, -chance)
        total = np.logaddexp(a, b)
        belief = np.exp(b - total)
        here = belief[self.week]
        shock_score = here * (event - expit(struck))
        score = shock_score + (1 - here) * (event - expit(eta))
        rate = belief - expit(chance)
        gradient = np.r_[
            score @ self.design,
            self.dose @ score,
            rate[~self.own_level].sum(),
            rate[self.own_level].sum(),
            shock_score.sum(),
        ]
        off = theta - self.centre
        value = total.sum() - 0.5 * np.sum(self.weight * off**2)
        return float(-value), self.weight * off - gradient

    def curvature(self, theta: FloatArray) -> FloatArray:
        """Return the curvature (k + 4, k + 4) of minus the log likelihood at theta (k + 4,).

        [1 per log odds squared]. Of a mixture it is the mean of its parts' curvatures, less the
        spread of their slopes within each tank-week (Louis 1982, J R Stat Soc B 44:226).
        """
        k, starts = self.at, self.starts
        columns = np.column_stack([self.design, self.dose])
        eta = columns @ theta[: k + 1]
        struck, own = eta + theta[k + 3], self.own_level
        chance = np.where(own, theta[k + 2], theta[k + 1])
        calm_sum = np.add.reduceat(self.event * eta - np.logaddexp(0, eta), starts)
        shock_sum = np.add.reduceat(self.event * struck - np.logaddexp(0, struck), starts)
        belief, rate = expit(shock_sum - calm_sum + chance), expit(chance)
        calm, shock = expit(eta), expit(struck)
        here = belief[self.week]
        in_shock, in_calm = here * shock * (1 - shock), (1 - here) * calm * (1 - calm)
        curve = np.diag(self.weight)
        curve[: k + 1, : k + 1] += columns.T @ ((in_shock + in_calm)[:, None] * columns)
        across = in_shock @ columns
        curve[: k + 1, k + 3] += across
        curve[k + 3, : k + 1] += across
        curve[k + 3, k + 3] += in_shock.sum()
        # The slopes of a struck week, less those of a calm one.
        differ = np.zeros((len(starts), k + 4))
        differ[:, : k + 1] = np.add.reduceat((calm - shock)[:, None] * columns, starts)
        differ[~own, k + 1] = differ[own, k + 2] = 1.0
        differ[:, k + 3] = np.add.reduceat(self.event - shock, starts)
        for place, at in ((k + 1, ~own), (k + 2, own)):
            curve[place, place] += (rate * (1 - rate))[at].sum()
        spread: FloatArray = differ.T @ ((belief * (1 - belief))[:, None] * differ)
        return curve - spread

    def fit(self, beta: float | None = None, start: FloatArray | None = None) -> ShockFit:
        """Return the ShockFit, with the light's effect held at `beta` [log odds] when given.

        From the parameters `start`, (k + 4,).
        """
        theta = (self.start if start is None else start).copy()
        if self.metric is None:
            self.metric = made_positive(self.curvature(theta))
        free = np.ones(len(theta), bool)
        if beta is not None:
            theta[self.at], free[self.at] = beta, False

        def objective(part: FloatArray) -> tuple[float, FloatArray]:
            whole = theta.copy()
            whole[free] = part
            value, gradient = self.negative(whole)
            return value, gradient[free]

        def bend(part: FloatArray) -> FloatArray:
            whole = theta.copy()
            whole[free] = part
            curve: FloatArray = self.curvature(whole)[np.ix_(free, free)]
            return curve

        best = minimize(
            objective,
            theta[free],
            jac=True,
            hess=bend,
            method="trust-exact",
            options={"gtol": GRADIENT_SMALL},
        )
        theta[free] = best.x
        return ShockFit(theta, -best.fun)

    def error_of(self, best: ShockFit, place: int) -> float:
        """Return the standard error of the parameter at a place [log odds], nan for none."""
        variance = np.linalg.pinv(self.curvature(best.parameters))[place, place]
        return float(np.sqrt(variance)) if variance > 0 else float("nan")

    def interval(self, best: ShockFit, *, level: float = 0.95) -> tuple[float, float]:
        """Return the ends of the profile interval of the light's effect [log odds].

        `level` of the interval, 0 to 1 [1].

        The signed root of the likelihood ratio is nearly straight in the effect, so each step
        scales the distance to where the root would reach its bound.
        """
        bound, centre = np.sqrt(chi2.ppf(level, 1)), best.parameters[self.at]
        error = self.error_of(best, self.at)
        ends = []
        for side in (-1, 1):
            shift, near = bound * (error if np.isfinite(error) else 1.0), best
            for _ in range(PROFILE_STEPS):
                near = self.fit(centre + side * shift, near.parameters)
                root = np.sqrt(max(2 * (best.log_likelihood - near.log_likelihood), 0.01))
                if abs(root - bound) < PROFILE_CLOSE:
                    break
                shift *= np.clip(bound / root, 0.4, 2.5)
            ends.append(float(centre + side * shift))
        return ends[0], ends[1]

    def log_likelihood(self, theta: FloatArray, events: Draws) -> FloatArray:
        """Return the log likelihood of each of the Draws `events`, (draws,), but for a constant.

        At the parameters theta, (k + 4,) [log odds].
        """
        k, starts = self.at, self.starts
        strength = theta[k + 3]
        eta = self.design @ theta[:k] + theta[k] * self.dose
        chance = np.where(self.own_level, theta[k + 2], theta[k + 1])
        calm = -np.add.reduceat(np.logaddexp(0, eta), starts) - np.logaddexp(0, chance)
        shock = -np.add.reduceat(np.logaddexp(0, eta + strength), starts) - np.logaddexp(0, -chance)
        alike = events.levels @ theta[:k] + theta[k] * events.doses[:, self.delay]
        total: FloatArray = alike + np.logaddexp(calm, shock + events.counts * strength).sum(1)
        return total

    def nuisance_scores(self, null: ShockFit, events: Draws) -> FloatArray:
        """Return the slopes of each draw's log likelihood by all but the light, (draws, k + 3) [1].

        `events` are Draws; `null` a fit in which the light has no effect.
        """
        k, theta, starts = self.at, null.parameters, self.starts
        eta = self.design @ theta[:k]
        chance = np.where(self.own_level, theta[k + 2], theta[k + 1])
        calm, shock = expit(eta), expit(eta + theta[k + 3])
        quiet = np.add.reduceat(np.logaddexp(0, eta) - np.logaddexp(0, eta + theta[k + 3]), starts)
        belief = expit(events.counts * theta[k + 3] + quiet + chance)
        in_calm = np.add.reduceat(calm[:, None] * self.design, starts)
        in_shock = np.add.reduceat(shock[:, None] * self.design, starts)
        expected = in_calm.sum(0) + belief @ (in_shock - in_calm)
        shock_score = belief * (events.counts - np.add.reduceat(shock, starts))
        rate = belief - expit(chance)
        own = self.own_level
        parts = [rate[:, ~own].sum(1), rate[:, own].sum(1), shock_score.sum(1)]
        return np.column_stack([events.levels - expected, *parts])

    def draws(
        self, theta: FloatArray, n_draws: int, rng: np.random.Generator, *, beta: float = 0.0
    ) -> Draws:
        """Return Draws of events simulated with the effect `beta` of the dose in question.

        At the parameters theta, (k + 4,), and `beta` [log odds per doubling].
        """
        k, n_weeks = self.at, len(self.starts)
        eta = self.design @ theta[:k] + beta * self.dose
        calm, struck = expit(eta), expit(eta + theta[k + 3])
        chance = expit(np.where(self.own_level, theta[k + 2], theta[k + 1]))
        sums = np.column_stack([self.design, self.weeks.doses])
        counts, summed = np.empty((n_draws, n_weeks)), np.empty((n_draws, sums.shape[1]))
        size = max(1, CHUNK_ROWS // len(eta))
        for first in range(0, n_draws, size):
            n = min(size, n_draws - first)
            shock = rng.random((n, n_weeks)) < chance
            risk = np.where(shock[:, self.week], struck, calm)
            draw, row = np.nonzero(rng.random(risk.shape) < risk)
            cell = draw * n_weeks + self.week[row]
            here = slice(first, first + n)
            counts[here] = np.bincount(cell, minlength=n * n_weeks).reshape(n, -1)
            for column, values in enumerate(sums.T):
                summed[here, column] = np.bincount(draw, values[row], minlength=n)
        return Draws(counts, summed[:, :k], summed[:, k:])

    def observed(self) -> Draws:
        """Return the Draws, one, of the events that happened."""
        counts = np.add.reduceat(self.event, self.starts)
        return Draws(
            counts[None], self.event[None] @ self.design, self.event[None] @ self.weeks.doses
        )


def made_positive(curve: FloatArray) -> FloatArray:
    """Return a curvature (k, k) with flat and falling directions made gently rising, (k, k).

    In the units of the fit, [1 per log odds squared].
    """
    values, vectors = np.linalg.eigh(curve)
    rising: FloatArray = (vectors * np.maximum(np.abs(values), CURVE_MIN)) @ vectors.T
    return rising
