"""What changed between two maps of one water, and where that is more than their noise."""

from dataclasses import dataclass

import numpy as np

# 90 % of a normal distribution lies within so many deviations.
NORMAL_90 = 1.645


@dataclass(frozen=True)
class FieldChange:
    """second / first at points, arrays of one shape [1]; `is_real` where the interval lacks 1."""

    ratio: np.ndarray
    low: np.ndarray
    high: np.ndarray
    is_real: np.ndarray
    beyond: np.ndarray  # True where either map lies beyond what its readings span
    in_rock: np.ndarray


def field_change(first, second):
    """Return the FieldChange of two Estimates at the same points.

    Each map's interval is taken as a normal one in log PAR, and their errors as independent:
    deviations add as squares. Maps of surveys with one meter share its error of scale, so a
    change of all points alike is told more boldly than two meters could.

    >>> from .estimate import Estimate
    >>> a = Estimate(*(np.array([v]) for v in (100.0, 95.0, 105.0, False, False)))
    >>> b = Estimate(*(np.array([v]) for v in (80.0, 76.0, 84.0, False, False)))
    >>> found = field_change(a, b)
    >>> round(float(found.ratio[0]), 3), bool(found.is_real[0])
    (0.8, True)
    """
    if np.shape(first.par_umol) != np.shape(second.par_umol):
        raise ValueError("Both maps must be asked at the same points.")
    change = np.log(second.par_umol) - np.log(first.par_umol)
    deviation = np.hypot(_deviation(first), _deviation(second))
    reach = NORMAL_90 * deviation
    return FieldChange(
        ratio=np.exp(change),
        low=np.exp(change - reach),
        high=np.exp(change + reach),
        is_real=np.abs(change) > reach,
        beyond=first.extrapolated | second.extrapolated,
        in_rock=first.in_rock | second.in_rock,
    )


def _deviation(estimate):
    return (np.log(estimate.high_umol) - np.log(estimate.low_umol)) / (2.0 * NORMAL_90)
