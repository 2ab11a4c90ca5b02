"""Interpolators anyone could pick, and how an answer of theirs or ours is scored.

Each takes a case (`tank`, `points_cm` (n, 3), `par_umol` (n,), `truth_points_cm` (m, 3),
`truth_umol` (m,)) and returns par, low and high at its truth points; low and high are None where
the method gives no deviation, else those of a normal 90 % interval.
"""

import numpy as np
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator, RBFInterpolator

NORMAL_90 = 1.6449


def scaled(case):
    size = np.array([case.tank.length_cm, case.tank.width_cm, case.tank.depth_cm])
    return case.points_cm / size, case.truth_points_cm / size


def from_log(mean, deviation=None):
    if deviation is None:
        return np.exp(mean), None, None
    half = NORMAL_90 * deviation
    return np.exp(mean), np.exp(mean - half), np.exp(mean + half)


def log_par(case):
    return np.log(np.maximum(case.par_umol, 1.0))


def scipy_rbf(case):
    points, at = scaled(case)
    par = RBFInterpolator(points, case.par_umol, kernel="thin_plate_spline", degree=1)(at)
    return np.maximum(par, 1.0), None, None


def scipy_linear(case):
    points, at = scaled(case)
    par = LinearNDInterpolator(points, case.par_umol)(at)
    near = NearestNDInterpolator(points, case.par_umol)(at)
    return np.where(np.isfinite(par), par, near), None, None


def sklearn_gp(case):
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    points, at = scaled(case)
    kernel = ConstantKernel(0.3) * Matern([0.5, 0.5, 0.5], nu=1.5) + WhiteKernel(0.01)
    gp = GaussianProcessRegressor(kernel, normalize_y=True, random_state=0)
    return from_log(*gp.fit(points, log_par(case)).predict(at, return_std=True))


def score(case, answer):
    """Return MdAPE, nMAE, P90, coverage and width of a method's answer on a case [%]."""
    par, low, high = answer
    truth = case.truth_umol
    error = 100 * np.abs(par / truth - 1)
    mean_error = 100 * np.abs(par - truth).mean() / truth.mean()
    inside = width = np.nan
    if low is not None:
        inside = 100 * np.mean((low <= truth) & (truth <= high))
        width = 100 * np.mean(high - low) / truth.mean()
    return np.median(error), mean_error, np.quantile(error, 0.9), inside, width
