"""A rig fitted to readings: robust maximum a posteriori, then everything linear around it.

log reading = log light(theta) + what the rig cannot explain + noise. Theta has a weak prior
around what the keeper measured; one bad or shadowed reading loses its weight (Student-t likelihood,
Lange, Little & Taylor 1989, doi:10.2307/2290063). Around the optimum the rig's derivatives are
the basis of a Gaussian process, so theta's uncertainty, the unexplained remainder and the noise
end up in one covariance: one prediction, one interval, one closed-form leave-one-out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.scene import Tank
from apps.photics.rig.optic_kinds import OpticsKnown, shape_evidence
from apps.photics.rig.prior import PriorDeviations, RigPrior
from apps.photics.rig.remainder import (
    REMAINDER,
    REMAINDER_RANGE,
    fit_remainder,
    remainder_lengths,
)
from apps.photics.rig.residual import Residual, fit_residual
from apps.photics.rig.rig import Geometry, Rig
from apps.photics.rig.window_fit import likeliest_window

# Meter noise in log PAR [1]: chosen for flicker, tilt and rounding of a hand-held meter.
METER_NOISE = 0.05
# How far a reading was from where it is written down, per axis [cm]: chosen for a probe on a stick.
PLACE_NOISE_CM = 1.0
# Placing noise in log PAR beyond this says only that the model is steep there [1]: our own choice.
PLACE_NOISE_MAX = 0.3
# Misfit a rig model is allowed beyond noise while it is fitted: what the remainder takes up later
# [log PAR]: chosen like the remainder.
MODEL_NOISE = 0.05
# Degrees of freedom of Student's t [1]: chosen, because few readings are bad and few can be spared.
DEGREES = 5.0
# Noise variance of a row that says nothing [log squared]: chosen, because no light differs by e to
# the power of its root.
SILENT_VARIANCE = 1e8
# Steps of the fit at most; a gain of log posterior that ends it [1]; the longest step in prior
# deviations [1]. Chosen, because fits of made-up tanks settle well within.
STEPS = 25
SETTLED = 1e-3
FAR_STEP = 2.5
# Before which steps it is looked how steep the light is: our own choice.
STEEPNESS_AT = (0, 4)


class LogReadings(Protocol):
    """Readings as the fit takes them; `field.readings.Readings` is one."""

    @property
    def points_cm(self) -> FloatArray:
        """Return where they were taken, (n, 3) [cm]."""
        ...

    @property
    def log_par(self) -> FloatArray:
        """Return the log of each, (n,) [log umol m-2 s-1]."""
        ...

    @property
    def extra_variance(self) -> FloatArray:
        """Return the noise variance of each beyond the meter's, (n,) [1]."""
        ...

    @property
    def scale_basis(self) -> FloatArray:
        """Return how far a survey's scale may be off, (n, q) [log]."""
        ...


# Log light (n,), its derivatives by the parameters (n, p), noise variance (n,), robust weight (n,)
# and the loss, at the end of the fit.
FitState = tuple[RealArray, RealArray, FloatArray, FloatArray, float]


@dataclass(frozen=True)
class Calibrated:
    """A rig after the fit; `evidence` [1] compares rigs on the same readings."""

    rig: Rig
    theta: FloatArray  # (p,)
    prior: FloatArray  # (p,)
    root: RealArray  # (p, p + q) root of the prior covariance, over the process's coefficients
    robust_weight: FloatArray  # (n,) of each reading, in (0, 1]
    added_variance: FloatArray  # (n,) noise variance added to readings of little weight
    gp: Residual
    evidence: float
    values: FloatArray  # (n,) log PAR beyond the prior rig's, as the process was given it
    noise: FloatArray  # (n,) its noise variance, that added included
    noise_factor: float  # on the noise of a reading, as the readings asked for it [1]

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points, both (m,) [log umol m-2 s-1].

        `points_cm` (m, 3) in the tank's frame [cm].
        """
        log_light, slopes = self.rig.log_light_at(points_cm, self.theta)
        mean, variance = self.gp.predict(points_cm, slopes @ self.root)
        return log_light + slopes @ (self.prior - self.theta) + mean, np.sqrt(variance)

    def posterior_covariance(self, points_cm: FloatArray) -> FloatArray:
        """Return the covariance of log PAR between `points_cm` (m, 3), (m, m) [log squared]."""
        slopes = self.rig.log_light_at(points_cm, self.theta)[1]
        return self.gp.posterior_covariance(points_cm, slopes @ self.root)

    def noise_at(self, points_cm: FloatArray) -> FloatArray:
        """Return the noise variance of a reading of log PAR at `points_cm` (m, 3), (m,) [1]."""
        place = self.rig.log_light(self.rig.geometry(points_cm), self.theta)[2]
        return noise_variance(place, 0.0) * self.noise_factor**2

    @property
    def optics(self) -> OpticsKnown:
        """Return what the readings say of the optics."""
        mean, covariance = self.posterior()
        prior = (self.root * self.gp.prior_variance) @ self.root.T
        return OpticsKnown(shape_evidence(self.rig.many, mean, covariance, self.prior, prior))

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return misfit of each reading against the others and its deviation, both (n,) [log].

        The deviation is that of a reading of full weight: lowered weight must not excuse a misfit.
        """
        misfit, variance = self.gp.leave_one_out()
        return misfit, np.sqrt(variance - self.added_variance)

    def posterior(self) -> tuple[FloatArray, FloatArray]:
        """Return mean (p,) and covariance (p, p) of the parameters [log, cm] given the readings."""
        mean, covariance = self.gp.coefficients()
        return self.prior + self.root @ mean, self.root @ covariance @ self.root.T


def calibrate(
    rig: Rig,
    readings: LogReadings,
    deviations: PriorDeviations | None = None,
    *,
    steps: int = STEPS,
    start: Calibrated | None = None,
    known: RigPrior | None = None,
) -> Calibrated:
    """Fit a rig to readings and return it Calibrated.

    `deviations` before any reading, the usual ones where None; `steps` at most; `start` an earlier
    fit to go on from; `known` where the rig's outputs are stated, instead of `deviations`, which
    leave the scale to the readings. For readings above zero, at least one; see the module for the
    method. A window's daylight is fitted too, on the way to a whole fit: the Calibrated's rig has
    the PAR that the readings make most likely.
    """
    window = rig.tank.window
    if window is None or start is not None or steps != STEPS or known is not None:
        return calibrate_as_stated(rig, readings, deviations, steps=steps, start=start, known=known)

    def fitted(tank: Tank, begun: Calibrated | None) -> Calibrated:
        lit = rig.under(tank, rig.rocks)
        return calibrate_as_stated(lit, readings, deviations, start=begun)

    return likeliest_window(rig.tank, window, fitted)


def calibrate_as_stated(
    rig: Rig,
    readings: LogReadings,
    deviations: PriorDeviations | None = None,
    *,
    steps: int = STEPS,
    start: Calibrated | None = None,
    known: RigPrior | None = None,
) -> Calibrated:
    """Return what `calibrate` does, with the tank's window as bright as it is said to be."""
    geometries = rig.geometries(readings.points_cm)
    if known is None:
        covariance = (deviations or PriorDeviations()).covariance(rig)
        prior = rig.nominal()
        prior[: rig.many] += rig.log_gain(geometries, readings.log_par, prior)
    else:
        covariance, prior = known.covariance, known.mean
    precision = np.linalg.inv(covariance)
    theta, state = climb(
        rig,
        geometries,
        readings.log_par,
        extra_variance=readings.extra_variance,
        prior=prior,
        precision=precision,
        begin=prior if start is None else start.theta,
        steps=steps,
    )
    log_light, slopes, noise, weight, _ = state
    root = np.linalg.cholesky(covariance)
    full = np.minimum(weight, 1.0)
    values = readings.log_par - log_light - slopes @ (prior - theta)
    remainder = fit_remainder(
        rig.tank,
        readings.points_cm,
        values,
        noise_variance=(noise - MODEL_NOISE**2) / full**2,
        basis=np.hstack([slopes @ root, readings.scale_basis]),
        robust_weight=full,
    )
    return Calibrated(
        rig=rig,
        theta=theta,
        prior=prior,
        root=np.pad(root, ((0, 0), (0, readings.scale_basis.shape[1]))),
        robust_weight=full,
        added_variance=remainder.noise * (1.0 - full**2),
        gp=remainder.gp,
        evidence=evidence_of(state, precision),
        values=values,
        noise=remainder.noise,
        noise_factor=remainder.noise_factor,
    )


def unread(rig: Rig, known: RigPrior) -> Calibrated:
    """Return a Calibrated rig that no reading was taken of, by what is known of it.

    Its process holds one row in the middle of the tank that says nothing: its noise is beyond all
    light, and no parameter bears on it.
    """
    root = np.linalg.cholesky(known.covariance)
    tank = rig.tank
    gp = fit_residual(
        np.array([[tank.length_cm, tank.width_cm, tank.depth_cm]]) / 2.0,
        np.zeros(1),
        noise_variance=SILENT_VARIANCE,
        variance=REMAINDER**2,
        lengths=remainder_lengths(np.sqrt(tank.length_cm * tank.width_cm), REMAINDER_RANGE),
        basis=np.zeros((1, len(root))),
        prior_variance=np.ones(len(root)),
    )
    return Calibrated(
        rig=rig,
        theta=known.mean,
        prior=known.mean,
        root=root,
        robust_weight=np.ones(1),
        added_variance=np.zeros(1),
        gp=gp,
        evidence=0.0,
        values=np.zeros(1),
        noise=np.full(1, SILENT_VARIANCE),
        noise_factor=1.0,
    )


def evidence_of(state: FitState, precision: RealArray) -> float:
    """Return the log evidence of a rig at the end of its fit [1], up to a constant.

    `precision` (p, p) of the prior, in the units of the parameters [log, cm]. Laplace's
    approximation (MacKay 1992, doi:10.1162/neco.1992.4.3.415).
    """
    _, slopes, noise, weight, loss = state
    curvature = slopes.T @ (slopes * (weight / noise)[:, None]) + precision
    return float(
        -loss
        + 0.5
        * (np.linalg.slogdet(precision)[1] - np.linalg.slogdet(curvature)[1] - np.log(noise).sum())
    )


def climb(
    rig: Rig,
    geometries: Sequence[Geometry],
    values: FloatArray,
    *,
    extra_variance: FloatArray,
    prior: FloatArray,
    precision: RealArray,
    begin: FloatArray,
    steps: int,
) -> tuple[FloatArray, FitState]:
    """Return the most probable parameters (p,) and the state there.

    `geometries` of the readings and their log PAR `values` (n,) [log], `extra_variance` (n,) [1]
    beyond the meter's; `prior` (p,), its `precision` (p, p) and `begin` (p,), in the units of the
    parameters [log, cm], by at most so many `steps`.
    Damped Gauss-Newton (Marquardt 1963, J SIAM 11:431) on reweighted least squares.
    """
    deviation = 1.0 / np.sqrt(np.diag(precision))
    farthest = FAR_STEP * np.minimum(deviation, 10.0)
    theta, damping, loss = begin.copy(), 1e-3, np.inf
    log_light, slopes, place = rig.log_light_of(geometries, theta)
    for step in range(steps):
        if step in STEEPNESS_AT:
            # Steep places make readings noisy; where they are steep is known once the fit is near.
            noise = noise_variance(place, extra_variance)
            loss = robust_loss(values - log_light, noise, theta - prior, precision)
        weight = robust_weight(values - log_light, noise) / noise
        normal = slopes.T @ (slopes * weight[:, None]) + precision
        pull = slopes.T @ ((values - log_light) * weight) - precision @ (theta - prior)
        for _ in range(5):
            move = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), pull)
            move /= max(1.0, float(np.max(np.abs(move) / farthest)))
            if step + 1 in STEEPNESS_AT:
                trial = rig.log_light_of(geometries, theta + move)
            else:
                trial = *rig.light_of(geometries, theta + move), place
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
    return theta, (log_light, slopes, noise, robust_weight(values - log_light, noise), loss)


def robust_weight(misfit: RealArray, noise: FloatArray) -> FloatArray:
    """Return the weight of readings by their `misfit` [log] and `noise` variance [1], all (n,) [1].

    Of Student's t, a little above 1 for those that fit.
    """
    weight: FloatArray = (DEGREES + 1.0) / (DEGREES + misfit**2 / noise)
    return weight


def noise_variance(place: RealArray, extra_variance: FloatArray | float) -> FloatArray:
    """Return the variance of each log reading from meter, placing and model, (n,) [1].

    `place` (n, 3) derivatives of log light by place [1/cm], `extra_variance` (n,) or one [1].
    """
    placing = np.minimum(PLACE_NOISE_CM**2 * (place**2).sum(axis=1), PLACE_NOISE_MAX**2)
    variance: FloatArray = METER_NOISE**2 + MODEL_NOISE**2 + placing + extra_variance
    return variance


def robust_loss(
    misfit: RealArray, noise: FloatArray, shift: FloatArray, precision: RealArray
) -> float:
    """Return the negative log posterior of the parameters up to a constant [1].

    `misfit` (n,) of log readings and their `noise` variance (n,) [1], `shift` (p,) of the
    parameters from their prior and its `precision` (p, p), in the units of the parameters [log,
    cm].
    """
    readings = 0.5 * (DEGREES + 1.0) * np.log1p(misfit**2 / noise / DEGREES).sum()
    return float(readings + 0.5 * shift @ precision @ shift)
