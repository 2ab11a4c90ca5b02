"""The smooth light map of a tank whose fixtures are unknown: a log-linear trend and a remainder.

log PAR is a trend in depth and across the box plus a smooth remainder that a Gaussian process
draws from the readings. Readings far off what the others say are given less weight, so that one
slip of the pen does not bend the map.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.rig.residual import (
    Residual,
    fit_residual,
    surface_covariance,
    t_log_density,
)

# Meter noise in log PAR [1]: a few percent of flicker and placing error, house rule.
NOISE = 0.06
# How fast a misfit loses its say: Student-t with few degrees of freedom (Lange, Little & Taylor
# 1989, doi:10.2307/2290063), applied to leave-one-out misfits.
ROBUST_DEGREES = 4.0
ROBUST_ROUNDS = 8
# Choices the fit tries: correlation length as a share of the box, spread of the remainder [1].
LENGTH_SHARES = (0.35, 0.6, 1.0, 1.8)
REMAINDERS = (0.03, 0.1, 0.2, 0.4)
NOISES = (0.04, 0.08, 0.16)
# The choice under which readings are first weighed.
FIRST_TRIAL = (0.6, 0.2, NOISE)
TUNING_READINGS = 200
# Prior spread of the trend's coefficients [log PAR]: level free, depth and tilt moderate.
PRIOR = np.array([1e4, 2.0, 0.3, 0.3, 0.5, 0.5])


def trend_basis(points_cm, tank):
    """Return the trend's terms at points (n, 3): level, depth, tilts and bows, (n, 6) [1]."""
    x = 2.0 * points_cm[:, 0] / tank.length_cm - 1.0
    y = 2.0 * points_cm[:, 1] / tank.width_cm - 1.0
    z = 2.0 * points_cm[:, 2] / tank.depth_cm - 1.0
    return np.stack([np.ones_like(x), z, x, y, x * x, y * y], axis=1)


def box_lengths(tank):
    """Return a length per axis that makes the box's anisotropy fair, (3,) [cm]."""
    side = np.sqrt(tank.length_cm * tank.width_cm)
    return np.array([side, side, tank.depth_cm * 1.3])


@dataclass(frozen=True)
class SmoothModel:
    """log PAR everywhere from readings alone."""

    tank: object
    level: float  # subtracted before the fit, so that scaled readings give the same fit
    gp: Residual
    doubt: np.ndarray  # noise variance added to readings that disagree, (n,)
    degrees: float  # of the t distribution the interval uses

    def predict(self, points_cm):
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,)."""
        mean, variance = self.gp.predict(points_cm, trend_basis(points_cm, self.tank))
        return mean + self.level, np.sqrt(variance)

    def posterior_covariance(self, points_cm):
        """Return the covariance of log PAR between points (m, 3), (m, m) [log squared]."""
        return self.gp.posterior_covariance(points_cm, trend_basis(points_cm, self.tank))

    def noise_at(self, points_cm):
        """Return the noise variance of a reading of log PAR at points (m, 3), (m,)."""
        return np.full(len(points_cm), NOISE**2)

    def leave_one_out(self):
        """Return misfit of each reading against the others and its deviation, both (n,).

        The deviation is that of a reading of full weight: lowered weight must not excuse a misfit.
        """
        misfit, variance = self.gp.leave_one_out()
        return misfit, np.sqrt(variance - self.doubt)


def robust_weights(misfit, deviation):
    """Return the say of each reading in (0, 1] from its leave-one-out misfit, (n,)."""
    z = misfit / deviation
    return np.minimum(1.0, (ROBUST_DEGREES + 1.0) / (ROBUST_DEGREES + z * z))


def fit_smooth(points_cm, log_par, extra_variance, tank):
    """Fit the smooth map: points (n, 3), log PAR (n,), noise variance beyond the meter's (n,)."""
    level = float(np.median(log_par))
    basis = trend_basis(points_cm, tank)
    everything = points_cm, log_par - level, extra_variance, basis, box_lengths(tank)
    # What a few hundred readings say of the map's smoothness, more would only repeat.
    keep = np.linspace(0, len(log_par) - 1, min(len(log_par), TUNING_READINGS)).round().astype(int)
    few = (*(array[keep] for array in everything[:4]), everything[4])

    say = robust_say(few)
    trials = [(s, r, e) for s in LENGTH_SHARES for r in REMAINDERS for e in NOISES]
    best = max(trials, key=lambda trial: loo_score(attempt(few, trial, say), say))
    if len(keep) < len(log_par):
        say = robust_say(everything)
    doubt = (best[2] ** 2 + extra_variance) * (1.0 / say**2 - 1.0)
    return SmoothModel(tank, level, attempt(everything, best, say), doubt, degrees=5.0)


def attempt(data, trial, say, surface=None):
    """Return the Residual for one choice of length share, remainder and noise."""
    points, values, extra_variance, _, _ = data
    return fit_residual(
        points,
        values,
        noise_variance=(trial[2] ** 2 + extra_variance) / say**2,
        surface=surface,
        **surface_law(data, trial),
    )


def surface_law(data, trial):
    """Return what the covariance of the surface follows, by the names of `fit_residual`."""
    _, _, _, basis, lengths = data
    share, remainder, _ = trial
    return {
        "variance": remainder**2,
        "lengths": share * lengths,
        "basis": basis,
        "prior_variance": PRIOR**2,
    }


def robust_say(data):
    """Return the weight of each reading from how the others, weighted alike, foresee it, (n,)."""
    extra_variance = data[2]
    say = np.ones(len(data[1]))
    # The same in all rounds, and half of what a round costs.
    surface = surface_covariance(data[0], **surface_law(data, FIRST_TRIAL))
    for _ in range(ROBUST_ROUNDS):
        misfit, variance = attempt(data, FIRST_TRIAL, say, surface).leave_one_out()
        # The deviation a reading of full weight would have; its own lowered weight must not
        # widen its margin and let it back in.
        own = (NOISE**2 + extra_variance) * (1.0 / say**2 - 1.0)
        say = robust_weights(misfit, np.sqrt(variance - own))
    return say


def loo_score(gp, say):
    """Return how well the readings foresee each other: summed log density under a t law [1]."""
    misfit, variance = gp.leave_one_out()
    deviation = np.sqrt(variance)
    density = t_log_density(misfit / deviation, degrees=ROBUST_DEGREES) - np.log(deviation)
    return float((say * density).sum())
