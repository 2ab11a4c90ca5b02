"""Gaussian-process regression with a linear trend and closed-form leave-one-out.

One covariance carries everything: the trend through the prior variance of its coefficients, the
smooth remainder through a Matern kernel, the noise on the diagonal. So every prediction, every
interval and every leave-one-out value comes from a single Cholesky factor. Its inverse is kept:
to multiply by it costs a third of what solving with the factor does.
Rasmussen & Williams 2006, sections 2.2 and 2.7.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dlauum, dpotrf, dtrtri
from scipy.special import gammaln

from apps.photics.ground.arrays import ArrayLike, FloatArray, RealArray

# Exact, of the kernel below.
SQRT3 = float(np.sqrt(3.0))
# Correlation [1] by scaled distance [1], any shape.
Kernel = Callable[[FloatArray], FloatArray]


def t_log_density(z: FloatArray, *, degrees: float) -> FloatArray:
    """Return the log density of Student's t at `z` of any shape, which it keeps [1].

    `degrees` of freedom, above zero [1].
    """
    whole = gammaln(0.5 * (degrees + 1.0)) - gammaln(0.5 * degrees)
    whole = whole - 0.5 * np.log(degrees * np.pi)
    density: FloatArray = whole - 0.5 * (degrees + 1.0) * np.log1p(z * z / degrees)
    return density


def matern32(distance: FloatArray) -> FloatArray:
    """Return the Matern correlation of smoothness 3/2, of the shape of the distances [1].

    `distance` scaled, any shape, zero or more [1]. Rasmussen & Williams 2006, Gaussian Processes
    for Machine Learning, equation 4.17.
    """
    # In place, here and below: memory is most of what large ones cost.
    scaled = SQRT3 * distance
    correlation: FloatArray = np.exp(-scaled)
    scaled += 1.0
    correlation *= scaled
    return correlation


def distances(points: ArrayLike, others: ArrayLike, lengths: FloatArray) -> FloatArray:
    """Return the scaled distance between two point sets, (n, m) [1].

    `points` (n, d), `others` (m, d) and `lengths` (d,), above zero, in one unit. Worked out as
    finely as the points are given: points of a drawing come in single precision.
    """
    is_single = np.asarray(points).dtype == np.float32
    kind = np.float32 if is_single else np.float64
    a, b = (np.asarray(side, kind) / np.asarray(lengths, kind) for side in (points, others))
    square: FloatArray = (-2.0 * a) @ b.T
    square += (a * a).sum(1)[:, None]
    square += (b * b).sum(1)[None, :]
    np.maximum(square, 0.0, out=square)
    return np.sqrt(square, out=square)


@dataclass(frozen=True)
class Residual:
    """A fitted Gaussian process of values in any one unit; build it with `fit_residual`."""

    points: FloatArray  # (n, d)
    basis: FloatArray  # (n, p)
    prior_variance: FloatArray  # (p,)
    variance: float
    lengths: FloatArray  # (d,)
    kernel: Kernel
    whitening: FloatArray  # inverse of the whole covariance's lower Cholesky factor, (n, n)
    weights: FloatArray  # covariance^-1 values, (n,)
    inverse_diagonal: FloatArray  # (n,)
    log_likelihood: float
    # How much of each of k unlike remainders of one law a value holds, (n, k) [1]; the first is
    # that of `predict`.
    parts: FloatArray

    def covariance(self, points: RealArray, basis: RealArray) -> FloatArray:
        """Return the covariance of points with the data, (m, n) [values squared].

        `points` (m, d) in the unit of the lengths, `basis` (m, p) the trend's terms there.
        """
        smooth = self.remainder_at(points) * self.parts[:, 0]
        whole: FloatArray = smooth + (basis * self.prior_variance) @ self.basis.T
        return whole

    def predict(self, points: RealArray, basis: RealArray) -> tuple[FloatArray, FloatArray]:
        """Return mean and variance of the noise-free surface at points, (m,) [values, squared].

        `points` (m, d) in the unit of the lengths, `basis` (m, p) the trend's terms there.
        """
        cross = self.covariance(points, basis)
        prior = self.variance + (basis * basis) @ self.prior_variance
        return cross @ self.weights, np.maximum(prior - squares(self.whitened(cross)), 0.0)

    def whitened(self, cross: FloatArray) -> FloatArray:
        """Return covariances with the data as those with uncorrelated data of variance 1, (m, n).

        `cross` (m, n) [values squared]; returned [values].
        """
        white: FloatArray = cross @ self.whitening.T
        return white

    def data_covariance(self) -> FloatArray:
        """Return the covariance of the data, noise included, (n, n) [values squared]."""
        factor, _ = dtrtri(self.whitening, lower=1)
        whole: FloatArray = factor @ factor.T
        return whole

    def remainder_at(self, points: RealArray) -> FloatArray:
        """Return a remainder's covariance between points (m, d) and the data's, (m, n) [squared].

        Of one and the same remainder; what they have of it stands in `parts`.
        """
        return self.variance * self.kernel(distances(points, self.points, self.lengths))

    def predict_parts(
        self, smooth: FloatArray, basis: FloatArray, parts: FloatArray, own: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the trend's mean, the remainders', and the variance of a changed surface.

        `smooth` (m, n) [squared] is `remainder_at` the points, `basis` (m, p) the trend's terms
        there [1]. At each point the changed surface has the trend of `basis` and `parts` (m, k) of
        the remainders, with `own` (m,) times the variance of one [1]. Returned are (m,), (m, k)
        (the remainders' own means, `parts` not applied) and (m,).
        """
        unit = basis * self.prior_variance
        cross = parts @ self.parts.T
        cross *= smooth
        cross += unit @ self.basis.T
        prior = self.variance * own + (basis * unit).sum(axis=1)
        variance = np.maximum(prior - squares(self.whitened(cross)), 0.0)
        trend = unit @ (self.weights @ self.basis)
        return trend, smooth @ (self.parts * self.weights[:, None]), variance

    def covariance_parts(
        self, points: FloatArray, basis: RealArray, parts: FloatArray, own: FloatArray
    ) -> FloatArray:
        """Return the covariance of a changed surface between points, (m, m) [values squared].

        `points` (m, d); `basis` (m, p), `parts` (m, r) and `own` (m,), in the units that
        `predict_parts` takes. What is beyond
        `parts` is taken to be alike at all points.
        """
        apart = self.variance * self.kernel(distances(points, points, self.lengths))
        beyond = np.sqrt(np.maximum(own - (parts * parts).sum(axis=1), 0.0))
        prior = apart * (parts @ parts.T + np.outer(beyond, beyond))
        prior += (basis * self.prior_variance) @ basis.T
        cross = (parts @ self.parts.T) * self.remainder_at(points)
        cross += (basis * self.prior_variance) @ self.basis.T
        shrunk = self.whitened(cross)
        posterior: FloatArray = prior - shrunk @ shrunk.T
        return posterior

    def remainder_kept(self, points: FloatArray) -> "RemainderAt":
        """Return the RemainderAt of points (m, d), for many changed surfaces at the same ones.

        `points` in the unit of the lengths.
        """
        smooth = self.remainder_at(points)
        trend = self.basis * self.prior_variance
        many, kinds = len(points), self.parts.shape[1]
        # Points side by side, once for each kind of remainder.
        spread = (smooth[:, None, :] * self.parts.T).reshape(many * kinds, -1)
        trend_part = self.whitened(trend.T).T
        apart = self.whitened(spread).reshape(many, kinds, -1)
        return RemainderAt(
            variance=self.variance,
            trend_weights=trend.T @ self.weights,
            trend_covariance=np.diag(self.prior_variance) - trend_part.T @ trend_part,
            mean=(spread @ self.weights).reshape(many, kinds),
            explained=apart @ apart.transpose(0, 2, 1),
            shared=apart @ trend_part,
        )

    def posterior_covariance(self, points: FloatArray, basis: RealArray) -> FloatArray:
        """Return the covariance of the noise-free surface between points, (m, m) [values squared].

        `points` (m, d) in the unit of the lengths, `basis` (m, p) the trend's terms there.
        """
        first = np.zeros((len(points), self.parts.shape[1]))
        first[:, 0] = 1.0
        return self.covariance_parts(points, basis, first, np.ones(len(points)))

    def coefficients(self) -> tuple[FloatArray, FloatArray]:
        """Return mean (p,) and covariance (p, p) of the trend's coefficients given the data."""
        cross = self.prior_variance[:, None] * self.basis.T
        shrunk = self.whitened(cross)
        return cross @ self.weights, np.diag(self.prior_variance) - shrunk @ shrunk.T

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return value minus what the others predict, and its variance, (n,) [values, squared].

        Dubrule (1983), doi:10.1007/BF01033029: with C the covariance, e_i = (C^-1 v)_i /
        (C^-1)_ii and its variance is 1 / (C^-1)_ii, noise of the reading included.
        """
        return self.weights / self.inverse_diagonal, 1.0 / self.inverse_diagonal


@dataclass(frozen=True)
class RemainderAt:
    """What the data state of trend and remainder at fixed points (m, d), in one unit, solved once.

    A history asks for hundreds of changed surfaces at the same points, and the data (n,) then
    have no part in what each costs.
    """

    variance: float
    trend_weights: FloatArray  # mean of the trend's coefficients given the data, (p,)
    trend_covariance: FloatArray  # theirs, (p, p)
    mean: FloatArray  # of the remainders, (m, k)
    explained: FloatArray  # how much of their covariance the data take away, (m, k, k)
    shared: FloatArray  # how much of their covariance with each coefficient, (m, k, p)

    def predict_parts(
        self, basis: FloatArray, parts: FloatArray, own: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return what `Residual.predict_parts` does, (m,), (m, k) and (m,), for these points.

        `basis` (m, p) the trend's terms [1] of the changed surface; `parts` (m, k), `own` (m,) [1].
        """
        trend = ((basis @ self.trend_covariance) * basis).sum(axis=1)
        both = np.einsum("mk,mkp,mp->m", parts, self.shared, basis, optimize=True)
        taken = np.einsum("mk,mkl,ml->m", parts, self.explained, parts, optimize=True)
        left = trend + self.variance * own - 2.0 * both - taken
        return basis @ self.trend_weights, self.mean, np.maximum(left, 0.0)


def squares(rows: FloatArray) -> FloatArray:
    """Return the sum of squares of each row, (m,) of (m, n) [squared]."""
    sums: FloatArray = np.einsum("mn,mn->m", rows, rows)
    return sums


def cholesky_inverse(matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the inverses of a matrix's lower Cholesky factor and of the matrix, (n, n) each.

    `matrix` (n, n), symmetric. Raises LinAlgError where it is not positive definite.

    LAPACK's own inverse from the factor: many times faster than solving for unit vectors, as
    small solves are handed to threads that spend their time waiting for each other.
    """
    factor, failed = dpotrf(matrix, lower=1, clean=1)
    if failed:
        raise np.linalg.LinAlgError("The covariance is not positive definite.")
    whitening, _ = dtrtri(factor, lower=1, overwrite_c=1)
    inverse, _ = dlauum(whitening, lower=1)
    # Only its lower triangle is worked out; above it stand the zeros of the cleaned factor.
    whole = inverse + inverse.T
    whole[np.diag_indices(len(whole))] = np.diag(inverse)
    return whitening, whole


def surface_covariance(
    points: FloatArray,
    *,
    variance: float,
    lengths: FloatArray,
    basis: FloatArray,
    prior_variance: FloatArray,
    kernel: Kernel = matern32,
    parts: FloatArray | None = None,
) -> FloatArray:
    """Return the covariance of the noise-free surface between points, (n, n) [values squared].

    `points` (n, d), `variance`, `lengths` (d,), `basis` (n, p), `prior_variance` (p,),
    `kernel` and `parts` (n, k) [1] as `fit_residual` takes them, in its units.
    """
    smooth = variance * kernel(distances(points, points, lengths))
    if parts is not None:
        smooth = smooth * (parts @ parts.T)
    whole: FloatArray = smooth + (basis * prior_variance) @ basis.T
    return whole


def fit_residual(
    points: ArrayLike,
    values: ArrayLike,
    *,
    noise_variance: FloatArray | float,
    variance: float,
    lengths: ArrayLike,
    basis: ArrayLike | None = None,
    prior_variance: ArrayLike = (),
    kernel: Kernel = matern32,
    surface: FloatArray | None = None,
    parts: FloatArray | None = None,
) -> Residual:
    """Condition a Gaussian process on values at points.

    points (n, d); values (n,); noise_variance scalar or (n,); variance of the smooth part; lengths
    (d,) in the unit of the points; basis (n, p) with the prior_variance (p,) of its coefficients
    (prior mean zero; very large stands for unknown); `kernel` the correlation by scaled distance;
    surface (n, n): their `surface_covariance` where it was worked out before; parts (n, k): how
    much of each of k unlike remainders a value holds, where not all of one [1]. Values in any one
    unit, of which variances are the square. Returns a Residual. Rasmussen & Williams 2006, sections
    2.2 and 2.7.
    """
    points = np.asarray(points, float)
    values = np.asarray(values, float)
    basis = np.zeros((len(points), 0)) if basis is None else np.asarray(basis, float)
    prior_variance = np.asarray(prior_variance, float)
    lengths = np.asarray(lengths, float)
    parts = np.ones((len(points), 1)) if parts is None else parts
    if surface is None:
        surface = surface_covariance(
            points,
            variance=variance,
            lengths=lengths,
            basis=basis,
            prior_variance=prior_variance,
            kernel=kernel,
            parts=parts,
        )
    whitening, inverse = cholesky_inverse(noisy(surface, noise_variance))
    weights = inverse @ values
    return Residual(
        points,
        basis,
        prior_variance,
        variance,
        lengths,
        kernel,
        whitening,
        weights,
        np.diag(inverse).copy(),
        log_likelihood(whitening, weights, values),
        parts,
    )


def noisy(surface: FloatArray, noise_variance: FloatArray | float) -> FloatArray:
    """Return a `surface` covariance (n, n) with the readings' noise on its diagonal.

    `noise_variance` scalar or (n,), all in the square of one unit.
    """
    whole = surface.copy()
    whole[np.diag_indices(len(whole))] += noise_variance
    return whole


def log_likelihood(whitening: FloatArray, weights: FloatArray, values: FloatArray) -> float:
    """Return the log density of `values` (n,) in one unit under their covariance [1].

    `whitening` (n, n) the inverse of its lower Cholesky factor, `weights` (n,) the inverse of the
    covariance times the values.
    Rasmussen & Williams 2006, equation 2.30.
    """
    return float(
        -0.5 * values @ weights
        + np.log(np.diag(whitening)).sum()
        - 0.5 * len(values) * np.log(2.0 * np.pi)
    )
