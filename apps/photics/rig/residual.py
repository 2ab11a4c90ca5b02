"""Gaussian-process regression with a linear trend and closed-form leave-one-out.

One covariance carries everything: the trend through the prior variance of its coefficients, the
smooth remainder through a Matern kernel, the noise on the diagonal. So every prediction, every
interval and every leave-one-out value comes from a single Cholesky factor.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular
from scipy.linalg.lapack import dpotrf, dpotri
from scipy.special import gammaln

SQRT3 = np.sqrt(3.0)


def t_log_density(z, degrees):
    """Return the log density of Student's t at z of any shape [1]."""
    whole = gammaln(0.5 * (degrees + 1.0)) - gammaln(0.5 * degrees)
    return whole - 0.5 * np.log(degrees * np.pi) - 0.5 * (degrees + 1.0) * np.log1p(z * z / degrees)


def exponential(distance):
    """Return exp(-r) for scaled distances of any shape [1]."""
    return np.exp(-distance)


def matern32(distance):
    """Return the Matern correlation of smoothness 3/2 for scaled distances of any shape [1]."""
    scaled = SQRT3 * distance
    return (1.0 + scaled) * np.exp(-scaled)


def distances(points, others, lengths):
    """Return the scaled distance between two point sets, (n, d) and (m, d) -> (n, m) [1]."""
    a = np.asarray(points, float) / lengths
    b = np.asarray(others, float) / lengths
    square = (a * a).sum(1)[:, None] + (b * b).sum(1)[None, :] - 2.0 * (a @ b.T)
    return np.sqrt(np.maximum(square, 0.0))


@dataclass(frozen=True)
class Residual:
    """A fitted Gaussian process; build it with `fit_residual`."""

    points: np.ndarray  # (n, d)
    basis: np.ndarray  # (n, p)
    prior_variance: np.ndarray  # (p,)
    variance: float
    lengths: np.ndarray  # (d,)
    kernel: object
    factor: np.ndarray  # lower Cholesky factor of the whole covariance, (n, n)
    weights: np.ndarray  # covariance^-1 values, (n,)
    inverse_diagonal: np.ndarray  # (n,)
    log_likelihood: float

    def covariance(self, points, basis):
        """Return the covariance between points (m, d) and the data, (m, n)."""
        smooth = self.variance * self.kernel(distances(points, self.points, self.lengths))
        return smooth + (basis * self.prior_variance) @ self.basis.T

    def predict(self, points, basis):
        """Return mean and variance of the noise-free surface at points (m, d), both (m,)."""
        cross = self.covariance(points, basis)
        mean = cross @ self.weights
        shrunk = solve_triangular(self.factor, cross.T, lower=True, check_finite=False)
        prior = self.variance + (basis * basis) @ self.prior_variance
        return mean, np.maximum(prior - (shrunk * shrunk).sum(0), 0.0)

    def remainder_at(self, points):
        """Return the covariance of the smooth part at points (m, d) with the data, (m, n)."""
        return self.variance * self.kernel(distances(points, self.points, self.lengths))

    def predict_parts(self, smooth, basis, carried, own):
        """Return the trend's mean, the remainder's, and the variance of a changed surface, (m,).

        smooth (m, n) is `remainder_at` the points. At each point the changed surface has the
        trend of `basis` and a remainder that is the old one times `carried` (not applied to the
        mean returned) with `own` times its variance.
        """
        trend = (basis * self.prior_variance) @ self.basis.T
        cross = trend + carried[:, None] * smooth
        shrunk = solve_triangular(self.factor, cross.T, lower=True, check_finite=False)
        prior = self.variance * own + (basis * basis) @ self.prior_variance
        variance = np.maximum(prior - (shrunk * shrunk).sum(0), 0.0)
        return trend @ self.weights, smooth @ self.weights, variance

    def remainder_kept(self, points):
        """Return the RemainderAt of points (m, d), for many changed surfaces at the same ones."""
        smooth = self.remainder_at(points)
        trend = self.basis * self.prior_variance
        both = np.concatenate([trend, smooth.T], axis=1)
        shrunk = solve_triangular(self.factor, both, lower=True, check_finite=False)
        trend_part, smooth_part = shrunk[:, : trend.shape[1]], shrunk[:, trend.shape[1] :]
        return RemainderAt(
            variance=self.variance,
            trend_weights=trend.T @ self.weights,
            trend_covariance=np.diag(self.prior_variance) - trend_part.T @ trend_part,
            mean=smooth @ self.weights,
            explained=(smooth_part * smooth_part).sum(0),
            shared=smooth_part.T @ trend_part,
        )

    def posterior_covariance(self, points, basis):
        """Return the covariance of the noise-free surface between points (m, d), (m, m)."""
        prior = self.variance * self.kernel(distances(points, points, self.lengths))
        prior += (basis * self.prior_variance) @ basis.T
        cross = self.covariance(points, basis)
        shrunk = solve_triangular(self.factor, cross.T, lower=True, check_finite=False)
        return prior - shrunk.T @ shrunk

    def coefficients(self):
        """Return mean (p,) and covariance (p, p) of the trend's coefficients given the data."""
        cross = self.prior_variance[:, None] * self.basis.T
        shrunk = solve_triangular(self.factor, cross.T, lower=True, check_finite=False)
        return cross @ self.weights, np.diag(self.prior_variance) - shrunk.T @ shrunk

    def leave_one_out(self):
        """Return value minus what the others predict, and the variance of that, both (n,).

        Dubrule (1983), doi:10.1007/BF01033029: with C the covariance, e_i = (C^-1 v)_i /
        (C^-1)_ii and its variance is 1 / (C^-1)_ii, noise of the reading included.
        """
        return self.weights / self.inverse_diagonal, 1.0 / self.inverse_diagonal


@dataclass(frozen=True)
class RemainderAt:
    """What the data tell of trend and remainder at fixed points (m, d), solved for once.

    A history asks for hundreds of changed surfaces at the same points, and the data (n,) then
    have no part in what each costs.
    """

    variance: float
    trend_weights: np.ndarray  # mean of the trend's coefficients given the data, (p,)
    trend_covariance: np.ndarray  # theirs, (p, p)
    mean: np.ndarray  # of the remainder, (m,)
    explained: np.ndarray  # how much of the remainder's variance the data take away, (m,)
    shared: np.ndarray  # how much of its covariance with each coefficient, (m, p)

    def predict_parts(self, basis, carried, own):
        """Return what `Residual.predict_parts` does for a basis (m, p) at these points."""
        trend = ((basis @ self.trend_covariance) * basis).sum(axis=1)
        both = (self.shared * basis).sum(axis=1)
        left = trend + self.variance * own - carried * (2.0 * both + carried * self.explained)
        return basis @ self.trend_weights, self.mean, np.maximum(left, 0.0)


def cholesky_inverse(matrix):
    """Return the lower Cholesky factor of a positive definite matrix (n, n), and its inverse.

    LAPACK's own inverse from the factor: many times faster than solving for unit vectors, as
    small solves are handed to threads that spend their time waiting for each other.
    """
    factor, failed = dpotrf(matrix, lower=1, clean=1)
    if failed:
        raise np.linalg.LinAlgError("The covariance is not positive definite.")
    inverse, _ = dpotri(factor, lower=1)
    # Only its lower triangle is worked out; above it stand the zeros of the cleaned factor.
    whole = inverse + inverse.T
    whole[np.diag_indices(len(whole))] = np.diag(inverse)
    return factor, whole


def surface_covariance(
    points: np.ndarray,
    *,
    variance: float,
    lengths: np.ndarray,
    basis: np.ndarray,
    prior_variance: np.ndarray,
    kernel: Callable[[np.ndarray], np.ndarray] = matern32,
) -> np.ndarray:
    """Return the covariance of the noise-free surface at points (n, d), (n, n)."""
    smooth = variance * kernel(distances(points, points, lengths))
    return smooth + (basis * prior_variance) @ basis.T


def fit_residual(
    points,
    values,
    *,
    noise_variance,
    variance,
    lengths,
    basis=None,
    prior_variance=(),
    kernel=matern32,
    surface=None,
):
    """Condition a Gaussian process on values at points.

    points (n, d); values (n,); noise_variance scalar or (n,); variance of the smooth part;
    lengths (d,) in the unit of the points; basis (n, p) with the prior_variance (p,) of its
    coefficients (prior mean zero; very large stands for unknown). surface (n, n): their
    `surface_covariance` where it was worked out before. Returns a Residual.
    """
    points = np.asarray(points, float)
    values = np.asarray(values, float)
    basis = np.zeros((len(points), 0)) if basis is None else np.asarray(basis, float)
    prior_variance = np.asarray(prior_variance, float)
    lengths = np.asarray(lengths, float)
    if surface is None:
        told = {"variance": variance, "lengths": lengths, "kernel": kernel}
        surface = surface_covariance(points, basis=basis, prior_variance=prior_variance, **told)
    whole = surface.copy()
    whole[np.diag_indices(len(points))] += noise_variance
    factor, inverse = cholesky_inverse(whole)
    weights = inverse @ values
    log_likelihood = (
        -0.5 * values @ weights
        - np.log(np.diag(factor)).sum()
        - 0.5 * len(values) * np.log(2.0 * np.pi)
    )
    return Residual(
        points,
        basis,
        prior_variance,
        variance,
        lengths,
        kernel,
        factor,
        weights,
        np.diag(inverse).copy(),
        float(log_likelihood),
    )
