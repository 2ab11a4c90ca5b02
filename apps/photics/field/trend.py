"""The smooth light map of a tank whose fixtures are unknown: a log-linear trend and a remainder.

log PAR is a trend in depth and across the box plus a smooth remainder that a Gaussian process
draws from the readings. Readings far off what the others foresee are given less weight, so that
one slip of the pen does not bend the map.
"""

from dataclasses import dataclass, replace
from itertools import product
from typing import NamedTuple

import numpy as np

from apps.photics.ground.arrays import FloatArray, IntArray, RealArray
from apps.photics.ground.scene import Tank
from apps.photics.rig.residual import (
    Residual,
    fit_residual,
    surface_covariance,
    t_log_density,
)

# Meter noise in log PAR [1]: chosen for a few percent of flicker and placing error.
NOISE = 0.06
# How fast a misfit loses its weight: Student-t with few degrees of freedom (Lange, Little & Taylor
# 1989, doi:10.2307/2290063), applied to leave-one-out misfits.
ROBUST_DEGREES = 4.0
ROBUST_ROUNDS = 8
# Choices the fit tries: correlation length as a part of the box [1], deviation of the remainder and
# of a reading [log]. Our own choice, each about twice the last.
LENGTHS = (0.35, 0.6, 1.0, 1.8)
REMAINDERS = (0.03, 0.1, 0.2, 0.4)
NOISES = (0.04, 0.08, 0.16)
# How much longer that is in depth than the box is deep [1]: our own choice.
DEPTH_RATIO = 1.3
# Readings the choice is made on: chosen, because more would only repeat what these show of it.
TUNING_READINGS = 200
# Prior deviation of the trend's coefficients [log PAR]: level free, depth and tilt moderate. Our
# own choice.
PRIOR = np.array([1e4, 2.0, 0.3, 0.3, 0.5, 0.5])


def trend_basis(points_cm: RealArray, tank: Tank) -> FloatArray:
    """Return the trend's terms at points (n, 3): level, depth, tilts and bows, (n, 6) [1].

    A quadratic without cross terms, and linear in depth by the Beer-Lambert law.
    """
    x = 2.0 * points_cm[:, 0] / tank.length_cm - 1.0
    y = 2.0 * points_cm[:, 1] / tank.width_cm - 1.0
    z = 2.0 * points_cm[:, 2] / tank.depth_cm - 1.0
    return np.stack([np.ones_like(x), z, x, y, x * x, y * y], axis=1)


def box_lengths(tank: Tank) -> FloatArray:
    """Return a length per axis that makes the box's anisotropy fair, (3,) [cm]."""
    side = np.sqrt(tank.length_cm * tank.width_cm)
    return np.array([side, side, DEPTH_RATIO * tank.depth_cm])


@dataclass(frozen=True)
class SmoothModel:
    """log PAR everywhere from readings alone."""

    tank: Tank
    level: float  # [log], subtracted before the fit, so that scaled readings give the same fit
    gp: Residual
    added_variance: FloatArray  # noise variance added to readings that disagree, (n,) [log squared]

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        mean, variance = self.gp.predict(points_cm, trend_basis(points_cm, self.tank))
        return mean + self.level, np.sqrt(variance)

    def posterior_covariance(self, points_cm: FloatArray) -> FloatArray:
        """Return the covariance of log PAR between points (m, 3), (m, m) [log squared]."""
        return self.gp.posterior_covariance(points_cm, trend_basis(points_cm, self.tank))

    def noise_at(self, points_cm: FloatArray) -> FloatArray:
        """Return the noise variance of a reading of log PAR at points (m, 3), (m,) [1]."""
        return np.full(len(points_cm), NOISE**2)

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return misfit of each reading against the others and its deviation, both (n,) [log].

        The deviation is that of a reading of full weight: lowered weight must not excuse a misfit.
        """
        misfit, variance = self.gp.leave_one_out()
        return misfit, np.sqrt(variance - self.added_variance)


class Trial(NamedTuple):
    """One choice of how smooth the map is."""

    length: float  # that of correlation, as a part of the box [1]
    remainder: float  # deviation of the remainder [log]
    noise: float  # deviation of a reading [log]


# The choice under which readings are first weighed: the middle of what is tried, our own choice.
FIRST_TRIAL = Trial(0.6, 0.2, NOISE)


@dataclass(frozen=True)
class SmoothReadings:
    """Readings as the smooth map is fitted to them, arrays of (n,) or (n, k) rows."""

    points_cm: FloatArray  # (n, 3)
    values: FloatArray  # (n,) log PAR beyond its middle [log]
    extra_variance: FloatArray  # (n,) beyond the meter's [1]
    basis: FloatArray  # (n, 6) the trend's terms [1]
    lengths_cm: FloatArray  # (3,) of the box

    def part(self, rows: IntArray) -> "SmoothReadings":
        """Return some of the readings, by their rows (k,)."""
        return replace(
            self,
            points_cm=self.points_cm[rows],
            values=self.values[rows],
            extra_variance=self.extra_variance[rows],
            basis=self.basis[rows],
        )

    def surface(self, trial: Trial) -> FloatArray:
        """Return the covariance of the surface between the readings, (n, n) [log squared]."""
        return surface_covariance(
            self.points_cm,
            variance=trial.remainder**2,
            lengths=trial.length * self.lengths_cm,
            basis=self.basis,
            prior_variance=PRIOR**2,
        )

    def fitted(
        self, trial: Trial, robust_weight: FloatArray, surface: FloatArray | None = None
    ) -> Residual:
        """Return the Residual for one Trial, readings counting by `robust_weight` (n,) [1].

        surface (n, n) [log squared]: that of the Trial, where it was worked out before.
        """
        return fit_residual(
            self.points_cm,
            self.values,
            noise_variance=(trial.noise**2 + self.extra_variance) / robust_weight**2,
            variance=trial.remainder**2,
            lengths=trial.length * self.lengths_cm,
            basis=self.basis,
            prior_variance=PRIOR**2,
            surface=surface,
        )

    def robust_weight(self) -> FloatArray:
        """Return each reading's weight by how the others, weighted alike, foresee it, (n,) [1]."""
        robust_weight = np.ones(len(self.values))
        # The same in all rounds, and half of what a round costs.
        surface = self.surface(FIRST_TRIAL)
        for _ in range(ROBUST_ROUNDS):
            gp = self.fitted(FIRST_TRIAL, robust_weight, surface)
            misfit, variance = gp.leave_one_out()
            # The deviation a reading of full weight would have; its own lowered weight must not
            # widen its margin and let it back in.
            own = (NOISE**2 + self.extra_variance) * (1.0 / robust_weight**2 - 1.0)
            robust_weight = robust_weights(misfit, np.sqrt(variance - own))
        return robust_weight


def robust_weights(misfit: FloatArray, deviation: FloatArray) -> FloatArray:
    """Return the weight of each reading in (0, 1] from its leave-one-out misfit, (n,) [1].

    misfit and its deviation, arrays (n,) [log].
    """
    z = misfit / deviation
    weight: FloatArray = np.minimum(1.0, (ROBUST_DEGREES + 1.0) / (ROBUST_DEGREES + z * z))
    return weight


def fit_smooth(
    points_cm: FloatArray, log_par: FloatArray, extra_variance: FloatArray, tank: Tank
) -> SmoothModel:
    """Fit the smooth map to readings.

    points_cm (n, 3), log_par (n,) [log umol m-2 s-1], extra_variance (n,) of each beyond the
    meter's noise [1].
    """
    level = float(np.median(log_par))
    basis, lengths = trend_basis(points_cm, tank), box_lengths(tank)
    everything = SmoothReadings(points_cm, log_par - level, extra_variance, basis, lengths)
    # What a few hundred readings show of the map's smoothness, more would only repeat.
    keep = np.linspace(0, len(log_par) - 1, min(len(log_par), TUNING_READINGS)).round().astype(int)
    few = everything.part(keep)
    robust_weight = few.robust_weight()
    trials = [Trial(*choice) for choice in product(LENGTHS, REMAINDERS, NOISES)]
    best = max(trials, key=lambda one: loo_score(few.fitted(one, robust_weight), robust_weight))
    if len(keep) < len(log_par):
        robust_weight = everything.robust_weight()
    added_variance = (best.noise**2 + extra_variance) * (1.0 / robust_weight**2 - 1.0)
    return SmoothModel(tank, level, everything.fitted(best, robust_weight), added_variance)


def loo_score(gp: Residual, robust_weight: FloatArray) -> float:
    """Return how well the readings foresee each other: summed log density under a t law [1].

    Each counts by its `robust_weight` (n,) [1].
    """
    misfit, variance = gp.leave_one_out()
    deviation = np.sqrt(variance)
    density = t_log_density(misfit / deviation, degrees=ROBUST_DEGREES) - np.log(deviation)
    return float((robust_weight * density).sum())
