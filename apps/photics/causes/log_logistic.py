"""The four-parameter log-logistic curve: a low level, a high level, and where between."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares


@dataclass(frozen=True)
class LogLogistic:
    """response = low + (high - low) / (1 + (dose / half)^slope), with standard errors (4,)."""

    slope: float
    low: float  # response at an endless dose
    high: float  # response without a dose
    half: float  # dose at half of the way
    standard_errors: np.ndarray  # in the order above
    residual_error: float

    def at(self, dose):
        """Return the response at doses at or above zero."""
        return curve([self.slope, self.low, self.high, self.half], np.asarray(dose, float))


def fit_log_logistic(dose, response, *, weight=None):
    """Return the LogLogistic through responses (n,) at doses (n,) at or above zero, any units.

    Least squares, `weight` (n,) by default alike; a slope below zero is a response that rises.
    Errors are those of the straightened curve. Raises ValueError for fewer than five points or
    doses all alike. Ritz et al. 2015, PLoS ONE 10:e0146021 (LL.4).
    """
    dose, response = np.asarray(dose, float), np.asarray(response, float)
    if len(dose) < 5 or len(np.unique(dose)) < 4 or np.any(dose < 0):
        raise ValueError("Four unknowns need five points at four doses or more.")
    root = np.sqrt(np.ones(len(dose)) if weight is None else np.asarray(weight, float))
    lit = dose[dose > 0]
    falls = response[dose <= np.median(dose)].mean() >= response[dose >= np.median(dose)].mean()
    ends = (response.min(), response.max()) if falls else (response.max(), response.min())
    start = [1.0, *ends, np.log(np.exp(np.mean(np.log(lit))))]
    fit = least_squares(
        lambda p: root * (curve([*p[:3], np.exp(p[3])], dose) - response),
        start,
        x_scale=[1.0, *(2 * [max(np.ptp(response), 1e-9)]), 1.0],
        xtol=1e-14, ftol=1e-14, gtol=1e-14,
    )  # fmt: skip
    left = len(dose) - 4
    variance = 2 * fit.cost / left
    errors = np.sqrt(np.diag(np.linalg.pinv(fit.jac.T @ fit.jac)) * variance)
    half = float(np.exp(fit.x[3]))
    errors[3] *= half
    return LogLogistic(*map(float, fit.x[:3]), half, errors, float(np.sqrt(variance)))


def curve(parameters, dose):
    """Return the response of (slope, low, high, half) at doses at or above zero."""
    slope, low, high, half = parameters
    with np.errstate(divide="ignore"):
        power = np.exp(np.clip(slope * (np.log(dose) - np.log(half)), -700, 700))
    return low + (high - low) / (1 + power)
