"""A logger's series at one fixed point: the light it added up to, and where it was silent."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike
from apps.photics.ground.dose import MOL_PER_UMOL_HOUR

# A longer silence is no straight line between its ends [s]: chosen, because a cloudless tank's
# light changes within the hour.
GAP_MAX_S = 1800.0
# A day with more of it missing is no whole day [h]: chosen, because an hour is a tenth of the dose.
MISSING_MAX_H = 1.0


@dataclass(frozen=True)
class LoggedLight:
    """What a window of a series amounts to."""

    dli_mol: float  # over the covered part [mol m-2]
    peak_umol: float  # [umol m-2 s-1]
    covered_hours: float  # [h]
    window_hours: float  # [h]

    @property
    def is_whole(self) -> bool:
        """Whether next to nothing of the window is missing."""
        return self.window_hours - self.covered_hours <= MISSING_MAX_H

    @property
    def full_hours(self) -> float:
        """Hours at the peak that would give the same [h]; 0 for darkness."""
        return self.dli_mol / (self.peak_umol * MOL_PER_UMOL_HOUR) if self.peak_umol > 0 else 0.0


def logged_light(
    seconds: ArrayLike, par_umol: ArrayLike, *, start: float, end: float
) -> LoggedLight:
    """Return the LoggedLight of a series over start..end [s].

    `seconds` (n,) ascending instants, `par_umol` (n,) at them [umol m-2 s-1].
    Between two readings the light
    runs straight, so a series at the corners of a day curve with straight ramps is summed
    exactly; over a silence longer than GAP_MAX_S nothing is counted.

    >>> round(logged_light([0, 1800, 3600], [100, 100, 100], start=0, end=3600).dli_mol, 6)
    0.36
    """
    t, par = np.asarray(seconds, float), np.asarray(par_umol, float)
    if t.shape != par.shape or t.ndim != 1:
        raise ValueError("Each instant needs its PAR.")
    if (np.diff(t) <= 0).any():
        raise ValueError("Instants must ascend.")
    if not end > start:
        raise ValueError("A window has a length.")
    window = (end - start) / 3600.0
    if len(t) < 2:
        return LoggedLight(0.0, 0.0, 0.0, window)
    left, right = np.maximum(t[:-1], start), np.minimum(t[1:], end)
    counts = (right > left) & (np.diff(t) <= GAP_MAX_S)
    left, right = left[counts], right[counts]
    at_left, at_right = np.interp(left, t, par), np.interp(right, t, par)
    hours = (right - left) / 3600.0
    total = float(np.sum(hours * (at_left + at_right) / 2.0)) * MOL_PER_UMOL_HOUR
    peak = float(max(at_left.max(), at_right.max())) if len(hours) else 0.0
    return LoggedLight(total, peak, float(hours.sum()), window)
