"""Daily light integral: PAR through the hours of a day."""

import numpy as np

# 1 umol m-2 s-1 held for an hour, in mol m-2: 3600 s x 1e-6. Exact.
MOL_PER_UMOL_HOUR = 0.0036


def curve_hours(hours, levels):
    """Return the hours of full light that a day curve is worth [h].

    `hours` (n,) ascending [h] and `levels` (n,) [1] are the corners of a curve with straight
    ramps between; it is dark outside them. The integral is exact. Raises ValueError when the
    hours do not ascend or a level is negative.

    >>> curve_hours([8, 10, 18, 20], [0, 1, 1, 0])
    10.0
    """
    hours, levels = np.asarray(hours, float), np.asarray(levels, float)
    if np.any(np.diff(hours) < 0):
        raise ValueError("The hours of a day curve must ascend.")
    if np.any(levels < 0):
        raise ValueError("A level cannot be below zero.")
    return float(np.trapezoid(levels, hours))


def ramped_day_hours(*, day_hours, ramp_hours):
    """Return the hours of full light of a day with one straight ramp at each end [h].

    `day_hours` from first to last light and `ramp_hours` of each ramp [h]. Raises ValueError
    when two ramps do not fit into the day.

    >>> ramped_day_hours(day_hours=12, ramp_hours=2)
    10.0
    """
    if ramp_hours < 0 or 2 * ramp_hours > day_hours:
        raise ValueError("Two ramps must fit into the day.")
    corners = [0.0, ramp_hours, day_hours - ramp_hours, day_hours]
    return curve_hours(corners, [0.0, 1.0, 1.0, 0.0])


def dli_mol(par_umol, *, full_hours):
    """Return the daily light integral [mol m-2 d-1].

    `par_umol` scalar or array at full light [umol m-2 s-1]; `full_hours` the hours of full
    light the day is worth [h]. Definition: Torres & Lopez, Purdue Extension HO-238.

    >>> round(dli_mol(200.0, full_hours=12.0), 2)
    8.64
    """
    return par_umol * full_hours * MOL_PER_UMOL_HOUR
