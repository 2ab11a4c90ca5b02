"""A rig fitted to readings: robust maximum a posteriori, then everything linear around it.

log reading = log light(theta) + what the rig cannot explain + noise. Theta has a weak prior
around what the keeper measured; one bad or shadowed reading loses its weight (Student-t likelihood,
Lange, Little & Taylor 1989, doi:10.2307/2290063). Around the optimum the rig's derivatives are
the basis of a Gaussian process, so theta's uncertainty, the unexplained remainder and the noise
end up in one covariance: one prediction, one interval, one closed-form leave-one-out.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.rig.residual import Residual, fit_residual
from apps.photics.rig.rig import Rig

# Meter noise in log PAR [1]: flicker, tilt, rounding; common practice of a hand-held meter.
METER_NOISE = 0.05
# How far a reading was from where it is written down, per axis [cm]: a probe on a stick.
PLACE_NOISE_CM = 1.0
# Placing noise in log PAR beyond this says only that the model is steep there [1].
PLACE_NOISE_MAX = 0.3
# Misfit a rig model is allowed beyond noise while it is fitted: what the remainder takes up later
# [log PAR].
MODEL_NOISE = 0.05
DEGREES = 5.0
# The remainder: rock shadows, odd optics. Deviation [log PAR] and range [share of box side].
REMAINDER = 0.05
REMAINDER_RANGE = 0.4
REMAINDER_DEPTH_RATIO = 1.5
# Gains: all fixtures share one unknown meter and output scale; each kind and each fixture differ.
GAIN_ANY, GAIN_KIND = 10.0, 0.5
STEPS = 25
SETTLED = 1e-3
FAR_STEP = 2.5


@dataclass(frozen=True)
class PriorDeviations:
    """How unsure the rig is before any reading: deviations, own and common to all fixtures."""

    gain: float = 0.2
    shift_x_cm: float = 1.6
    shift_y_cm: float = 1.6
    height_cm: float = 1.4
    common_x_cm: float = 0.0
    common_y_cm: float = 0.0
    common_height_cm: float = 0.0
    beam: float = 0.2
    edge: float = 0.5
    spill: float = 1.0
    attenuation: float = 0.8
    pane: float = 0.03
    bottom: float = 0.7
    face: float = 0.02

    def covariance(self, rig):
        """Return the prior covariance of the rig's parameters, (4 F + 8, 4 F + 8)."""
        many = rig.many
        kind = [(f.kind, f.beam_deg, f.panel_x_cm, f.panel_y_cm, f.optic) for f in rig.fixtures]
        alike = np.array([[a == b for b in kind] for a in kind], float)
        blocks = [GAIN_ANY**2 + GAIN_KIND**2 * alike + self.gain**2 * np.eye(many)]
        for own, common in (
            (self.shift_x_cm, self.common_x_cm),
            (self.shift_y_cm, self.common_y_cm),
            (self.height_cm, self.common_height_cm),
        ):
            blocks.append(own**2 * np.eye(many) + common**2)
        shared = [self.beam, self.edge, self.spill, self.attenuation]
        shared += [self.pane, self.bottom, self.face, self.face]
        whole = np.zeros((4 * many + len(shared),) * 2)
        for k, block in enumerate(blocks):
            whole[k * many : (k + 1) * many, k * many : (k + 1) * many] = block
        whole[4 * many :, 4 * many :] = np.diag(np.square(shared))
        return whole


@dataclass(frozen=True)
class Calibrated:
    """A rig after the fit; `evidence` compares rigs on the same readings."""

    rig: Rig
    theta: np.ndarray
    prior: np.ndarray
    root: np.ndarray  # Cholesky root of the prior covariance
    robust_weight: np.ndarray  # of each reading, in (0, 1]
    added_variance: np.ndarray  # noise variance added to readings of little weight
    gp: Residual
    evidence: float

    def predict(self, points_cm):
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,)."""
        log_light, slopes = self.rig.log_light_at(points_cm, self.theta)
        mean, variance = self.gp.predict(points_cm, slopes @ self.root)
        return log_light + slopes @ (self.prior - self.theta) + mean, np.sqrt(variance)

    def basis_at(self, points_cm):
        """Return what the parameters do at points (m, 3), in units of their prior, (m, p)."""
        return self.rig.log_light_at(points_cm, self.theta)[1] @ self.root

    def noise_at(self, points_cm):
        """Return the noise variance of a reading of log PAR at points (m, 3), (m,)."""
        place = self.rig.log_light(self.rig.geometry(points_cm), self.theta)[2]
        return noise_variance(place, 0.0)

    def leave_one_out(self):
        """Return misfit of each reading against the others and its deviation, both (n,).

        The deviation is that of a reading of full weight: lowered weight must not excuse a misfit.
        """
        misfit, variance = self.gp.leave_one_out()
        return misfit, np.sqrt(variance - self.added_variance)

    def posterior(self):
        """Return mean (p,) and covariance (p, p) of the parameters given the readings."""
        mean, covariance = self.gp.coefficients()
        return self.prior + self.root @ mean, self.root @ covariance @ self.root.T


def calibrate(rig, readings, deviations=None, *, steps=STEPS, start=None):
    """Fit a rig to Readings and return it Calibrated; `start` continues an earlier fit."""
    deviations = deviations or PriorDeviations()
    covariance = deviations.covariance(rig)
    precision = np.linalg.inv(covariance)
    geometries = rig.geometries(readings.points_cm)
    values = readings.log_par
    prior = rig.nominal()
    prior[: rig.many] += np.median(values - rig.log_light_of(geometries, prior)[0])
    begin = prior if start is None else start.theta
    theta, state = climb(
        rig, geometries, values, readings.extra_variance, prior, precision, begin, steps
    )
    log_light, slopes, noise, robust_weight, loss = state
    weight = robust_weight / noise
    curvature = slopes.T @ (slopes * weight[:, None]) + precision
    evidence = -loss + 0.5 * (
        np.linalg.slogdet(precision)[1] - np.linalg.slogdet(curvature)[1] - np.log(noise).sum()
    )
    root = np.linalg.cholesky(covariance)
    noise = noise - MODEL_NOISE**2
    full = np.minimum(robust_weight, 1.0)
    side = np.sqrt(rig.tank.length_cm * rig.tank.width_cm) * REMAINDER_RANGE
    gp = fit_residual(
        readings.points_cm,
        values - log_light - slopes @ (prior - theta),
        noise_variance=noise / full**2,
        variance=REMAINDER**2,
        lengths=(side, side, side * REMAINDER_DEPTH_RATIO),
        basis=slopes @ root,
        prior_variance=np.ones(len(theta)),
    )
    added = noise * (1.0 / full**2 - 1.0)
    return Calibrated(rig, theta, prior, root, full, added, gp, float(evidence))


def climb(rig, geometries, values, extra_variance, prior, precision, begin, steps):
    """Return the most probable parameters and the state there, by damped Gauss-Newton steps."""
    deviation = 1.0 / np.sqrt(np.diag(precision))
    farthest = FAR_STEP * np.minimum(deviation, 10.0)
    theta, damping, loss = begin.copy(), 1e-3, np.inf
    log_light, slopes, place = rig.log_light_of(geometries, theta)
    for step in range(steps):
        if step in (0, 4):
            # Steep places make readings noisy; where they are steep is known once the fit is near.
            noise = noise_variance(place, extra_variance)
            loss = robust_loss(values - log_light, noise, theta - prior, precision)
        robust_weight = (DEGREES + 1.0) / (DEGREES + (values - log_light) ** 2 / noise)
        weight = robust_weight / noise
        normal = slopes.T @ (slopes * weight[:, None]) + precision
        pull = slopes.T @ ((values - log_light) * weight) - precision @ (theta - prior)
        for _ in range(5):
            move = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), pull)
            move /= max(1.0, float(np.max(np.abs(move) / farthest)))
            trial = rig.log_light_of(geometries, theta + move)
            trial_loss = robust_loss(values - trial[0], noise, theta + move - prior, precision)
            if trial_loss <= loss:
                break
            damping = max(damping, 1e-3) * 8.0
        else:
            break
        gained, loss = loss - trial_loss, trial_loss
        theta, (log_light, slopes, place), damping = theta + move, trial, damping / 5.0
        if gained < SETTLED and step > 4:
            break
    robust_weight = (DEGREES + 1.0) / (DEGREES + (values - log_light) ** 2 / noise)
    return theta, (log_light, slopes, noise, robust_weight, loss)


def noise_variance(place, extra_variance):
    """Return the variance of each log reading from meter, placing and model, (n,)."""
    placing = np.minimum(PLACE_NOISE_CM**2 * (place**2).sum(axis=1), PLACE_NOISE_MAX**2)
    return METER_NOISE**2 + MODEL_NOISE**2 + placing + extra_variance


def robust_loss(misfit, noise, shift, precision):
    """Return the negative log posterior of the parameters up to a constant [1]."""
    readings = 0.5 * (DEGREES + 1.0) * np.log1p(misfit**2 / noise / DEGREES).sum()
    return float(readings + 0.5 * shift @ precision @ shift)
