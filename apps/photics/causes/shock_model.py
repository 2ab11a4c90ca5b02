"""Risk of an event from light, in tanks whose water now and then strikes every coral at once.

In a tank-week an unseen shock may multiply every coral's odds. How often and how strongly is found
from the data with weak expectations, so a cluster of events in one week counts as one misfortune
and not as many. Weeks in which the light of a good part of the tank changed have a level and a
shock rate of their own: then hands were in the water, which proves nothing against the light. What
remains speaks: brighter against dimmer corals in one week, large steps against small ones, rises
against falls, and the weeks after.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.stats import chi2

# Expectations as mean and standard deviation: log odds of a shock in a plain week and in a week
# of a light change, log of its strength. House rules: rare, and about eightfold.
SHOCK_LOGIT = (-5.0, 1.5)
CHANGE_SHOCK_LOGIT = (-3.0, 1.5)
# A keeper who logs water events leaves fewer of them unseen.
LOGGED_SHOCK_LOGIT = (-5.0, 1.5)
SHOCK_LOG = (np.log(6.0), 0.6)
# Spread expected of the tanks' own levels, of a light change's own level, of a rival's effect,
# and of the effect of a doubling [log odds].
TANK_SPREAD, CHANGE_SPREAD, RIVAL_SPREAD, LIGHT_SPREAD = 0.7, 1.0, 2.0, 3.0
# When a fit and an end of an interval are near enough: the log likelihood then misses by less than
# 0.001, the end by about 1 % of its error.
GRADIENT_SMALL, PROFILE_CLOSE, PROFILE_STEPS = 5e-3, 0.02, 12
CHUNK_ROWS = 2_000_000  # simulated coral-visits held at a time


@dataclass(frozen=True)
class ShockFit:
    """Parameters at the best fit and the penalised log likelihood there."""

    parameters: np.ndarray
    log_likelihood: float


class ShockModel:
    """The likelihood of the events of a TankWeeks, with the doublings `dose` as its question."""

    def __init__(self, weeks, dose=None):
        self.weeks, self.starts, self.week, self.event = (
            weeks,
            weeks.starts,
            weeks.week,
            weeks.event,
        )
        self.dose = weeks.dose if dose is None else dose
        self.logged = bool(weeks.rival.any())
        self.own_level = weeks.changed & (not self.logged)
        columns, spreads = [np.ones(len(weeks.starts))], [np.inf]
        n_tanks = int(weeks.week_tank.max()) + 1
        if n_tanks > 1:
            columns += list((weeks.week_tank[:, None] == np.arange(n_tanks)).T.astype(float))
            spreads += [TANK_SPREAD] * n_tanks
        if self.logged:
            columns.append(weeks.rival)
            spreads.append(RIVAL_SPREAD)
        if self.own_level.any():
            columns.append(self.own_level.astype(float))
            spreads.append(CHANGE_SPREAD)
        self.design = np.column_stack(columns)  # (g, k): constant within a tank-week
        plain = LOGGED_SHOCK_LOGIT if self.logged else SHOCK_LOGIT
        expected = (plain, CHANGE_SHOCK_LOGIT, SHOCK_LOG)
        k = self.at = self.design.shape[1]  # place of the light's effect
        self.centre = np.r_[np.zeros(k + 1), [mean for mean, _ in expected]]
        self.weight = 1 / np.r_[spreads, LIGHT_SPREAD, [sd for _, sd in expected]] ** 2
        self.start, self.metric = self.centre.copy(), None
        share = np.clip(self.event.mean(), 1e-3, 0.9)
        self.start[0] = np.log(share / (1 - share))

    def negative(self, theta):
        """Return minus the penalised log likelihood and its gradient."""
        k, starts, event = self.at, self.starts, self.event
        eta = (self.design @ theta[:k])[self.week] + self.dose * theta[k]
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
            self.design.T @ np.add.reduceat(score, starts),
            self.dose @ score,
            rate[~self.own_level].sum(),
            rate[self.own_level].sum(),
            shock_score.sum(),
        ]
        off = theta - self.centre
        value = total.sum() - 0.5 * np.sum(self.weight * off**2)
        return -value, self.weight * off - gradient

    def curvature(self, theta):
        """Return the curvature of minus the log likelihood, (k + 4, k + 4), by differences."""
        step, n = 1e-4, len(theta)
        curve = np.empty((n, n))
        for j in range(n):
            shift = step * (np.arange(n) == j)
            curve[:, j] = self.negative(theta + shift)[1] - self.negative(theta - shift)[1]
        return (curve + curve.T) / (4 * step)

    def fit(self, beta=None, start=None):
        """Return the ShockFit, with the light's effect held at `beta` [log odds] when given."""
        theta = (self.start if start is None else start).copy()
        if self.metric is None:
            self.metric = made_positive(self.curvature(theta))
        free = np.ones(len(theta), bool)
        if beta is not None:
            theta[self.at], free[self.at] = beta, False

        def objective(part):
            whole = theta.copy()
            whole[free] = part
            value, gradient = self.negative(whole)
            return value, gradient[free]

        first_step = np.linalg.inv(self.metric[np.ix_(free, free)])
        options = {"gtol": GRADIENT_SMALL, "hess_inv0": (first_step + first_step.T) / 2}
        found = minimize(objective, theta[free], jac=True, method="BFGS", options=options)
        theta[free] = found.x
        return ShockFit(theta, -found.fun)

    def error_of(self, best, place):
        """Return the standard error of the parameter at a place, nan where it has none."""
        variance = np.linalg.pinv(self.curvature(best.parameters))[place, place]
        return float(np.sqrt(variance)) if variance > 0 else float("nan")

    def interval(self, best, *, level=0.95):
        """Return the ends of the profile interval of the light's effect [log odds].

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
        return tuple(ends)

    def log_likelihood(self, theta, events):
        """Return the log likelihood of each draw of `events`, (draws,), but for a constant."""
        counts, doses = events
        k, starts = self.at, self.starts
        level, strength = self.design @ theta[:k], theta[k + 3]
        eta = level[self.week] + theta[k] * self.dose
        chance = np.where(self.own_level, theta[k + 2], theta[k + 1])
        calm = -np.add.reduceat(np.logaddexp(0, eta), starts) - np.logaddexp(0, chance)
        shock = -np.add.reduceat(np.logaddexp(0, eta + strength), starts) - np.logaddexp(0, -chance)
        shared = counts * level + theta[k] * doses
        return (shared + np.logaddexp(calm, shock + counts * strength)).sum(1)

    def nuisance_scores(self, null, events):
        """Return the slopes of each draw's log likelihood by all but the light, (draws, k + 3).

        `events` is (counts, doses), each (draws, g): events and summed dose of the events in each
        tank-week; `null` a fit in which the light has no effect.
        """
        counts, _ = events
        k, theta = self.at, null.parameters
        eta, sizes = self.design @ theta[:k], np.diff(np.r_[self.starts, len(self.week)])
        chance = np.where(self.own_level, theta[k + 2], theta[k + 1])
        calm, shock = expit(eta), expit(eta + theta[k + 3])
        quiet = np.log1p(-shock) - np.log1p(-calm)
        lean = counts * (np.log(shock / calm) - quiet) + sizes * quiet + chance
        belief = expit(lean)
        shock_score = belief * (counts - sizes * shock)
        expected = belief * shock + (1 - belief) * calm
        rate = belief - expit(chance)
        own = self.own_level
        parts = [rate[:, ~own].sum(1), rate[:, own].sum(1), shock_score.sum(1)]
        return np.column_stack([(counts - sizes * expected) @ self.design, *parts])

    def draws(self, theta, n_draws, rng, *, beta=0.0):
        """Return (counts, doses), each (n_draws, g), of events simulated with the effect `beta`."""
        k, n_weeks = self.at, len(self.starts)
        eta = (self.design @ theta[:k])[self.week] + beta * self.dose
        calm, struck = expit(eta), expit(eta + theta[k + 3])
        chance = expit(np.where(self.own_level, theta[k + 2], theta[k + 1]))
        counts, doses = np.empty((n_draws, n_weeks)), np.empty((n_draws, n_weeks))
        size = max(1, CHUNK_ROWS // len(eta))
        for first in range(0, n_draws, size):
            n = min(size, n_draws - first)
            shock = rng.random((n, n_weeks)) < chance
            risk = np.where(shock[:, self.week], struck, calm)
            draw, row = np.nonzero(rng.random(risk.shape) < risk)
            cell = draw * n_weeks + self.week[row]
            counts[first : first + n] = np.bincount(cell, minlength=n * n_weeks).reshape(n, -1)
            summed = np.bincount(cell, self.dose[row], minlength=n * n_weeks)
            doses[first : first + n] = summed.reshape(n, -1)
        return counts, doses

    def observed(self):
        """Return (counts, doses), each (1, g), of the events that happened."""
        counts = np.add.reduceat(self.event, self.starts)
        return counts[None], np.add.reduceat(self.event * self.dose, self.starts)[None]


class RatioTest:
    """How much better an effect of the size asked about explains the events than none does.

    The likelihood ratio of that effect against none is the best test there is of the one against
    the other (Neyman & Pearson 1933, doi:10.1098/rsta.1933.0009) where the rest is known. The rest
    is not: so the ratio is cleared of what the other parameters explain, to the first order, and
    held against what the same tanks give by chance (a parametric bootstrap).
    """

    def __init__(self, model, null, n_draws, rng, *, effects):
        """`effects` are the effects asked about [log odds per doubling], weighed alike."""
        self.model, self.null = model, null
        self.effects = tuple(model.fit(effect, null.parameters).parameters for effect in effects)
        draws = model.draws(null.parameters, n_draws, rng)
        ratio, nuisance = self.log_ratio(draws), model.nuisance_scores(null, draws)
        prior = np.diag(np.delete(model.weight, model.at)) + 1e-9 * np.eye(nuisance.shape[1])
        spread = nuisance.T @ nuisance / n_draws + prior
        self.slope = np.linalg.solve(spread, nuisance.T @ (ratio - ratio.mean())) / n_draws
        self.chance = np.sort(ratio - nuisance @ self.slope)

    def log_ratio(self, events):
        """Return the log likelihood ratio of the effects against none for each draw, (draws,)."""
        none = self.model.log_likelihood(self.null.parameters, events)
        some = [self.model.log_likelihood(theta, events) for theta in self.effects]
        return np.logaddexp.reduce(some, axis=0) - none

    def statistic(self, events):
        """Return the log ratio of each draw, cleared of what the other parameters explain."""
        return self.log_ratio(events) - self.model.nuisance_scores(self.null, events) @ self.slope

    def p_above(self, statistic):
        """Return the chance of a ratio this high or higher, ties counted half."""
        tie = 1e-9 * (1 + np.abs(self.chance).max())
        below = np.searchsorted(self.chance, statistic - tie)
        upto = np.searchsorted(self.chance, statistic + tie)
        n = len(self.chance)
        return (n - (below + upto) / 2 + 0.5) / (n + 1)


def expit(x):
    """Return the logistic curve, steady for large arguments."""
    return 0.5 * (1 + np.tanh(np.asarray(x) / 2))


def made_positive(curve):
    """Return a curvature with its flat and falling directions made gently rising."""
    values, vectors = np.linalg.eigh(curve)
    return (vectors * np.maximum(np.abs(values), 0.05)) @ vectors.T
