"""What changed between two maps of one water, and where that is more than their noise."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.normal import NORMAL_90


@dataclass(frozen=True)
class FieldChange:
    """second / first at points, arrays of one shape [1]; `is_real` where the interval lacks 1."""

    ratio: FloatArray
    low: FloatArray
    high: FloatArray
    is_real: BoolArray
    beyond: BoolArray  # True where either map lies beyond what its readings span
    in_rock: BoolArray


def field_change(first: Estimate, second: Estimate) -> FieldChange:
    """Return the FieldChange of two Estimates at the same points.

    Each map's interval is taken as a normal one in log PAR, and their errors as independent:
    deviations add as squares. What both have in common, such as one meter's scale, is to be left
    out of the intervals given: it cancels in their ratio.

    >>> a = Estimate(*(np.array([v]) for v in (100.0, 95.0, 105.0, False, False)))
    >>> b = Estimate(*(np.array([v]) for v in (80.0, 76.0, 84.0, False, False)))
    >>> change = field_change(a, b)
    >>> round(float(change.ratio[0]), 3), bool(change.is_real[0])
    (0.8, True)
    """
    if np.shape(first.par_umol) != np.shape(second.par_umol):
        raise ValueError("Both maps must be asked at the same points.")
    change = np.log(second.par_umol) - np.log(first.par_umol)
    deviation = np.hypot(_deviation(first), _deviation(second))
    half_width = NORMAL_90 * deviation
    return FieldChange(
        ratio=np.exp(change),
        low=np.exp(change - half_width),
        high=np.exp(change + half_width),
        is_real=np.abs(change) > half_width,
        beyond=first.extrapolated | second.extrapolated,
        in_rock=first.in_rock | second.in_rock,
    )


def _deviation(estimate: Estimate) -> FloatArray:
    width: FloatArray = np.log(estimate.high_umol) - np.log(estimate.low_umol)
    return width / (2.0 * NORMAL_90)
