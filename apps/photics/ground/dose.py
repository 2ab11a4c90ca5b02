"""Daily light integral: PAR through the hours of a day; `day_curve` gives those of any day."""

from apps.photics.ground.arrays import FloatOrArray

# 1 umol m-2 s-1 held for an hour, in mol m-2: 3600 s x 1e-6. Exact.
MOL_PER_UMOL_HOUR = 0.0036


def ramped_day_hours(*, day_hours: float, ramp_hours: float) -> float:
    """Return the hours of full light of a day with one straight ramp at each end [h].

    `day_hours` from first to last light and `ramp_hours` of each ramp [h], zero or more. Each ramp
    is worth half of its hours: the area of a triangle. Raises ValueError when two ramps do not
    fit into the day.

    >>> ramped_day_hours(day_hours=12, ramp_hours=2)
    10.0
    """
    if ramp_hours < 0 or 2 * ramp_hours > day_hours:
        raise ValueError("Two ramps must fit into the day.")
    return float(day_hours - ramp_hours)


def dli_mol(par_umol: FloatOrArray, *, full_hours: float) -> FloatOrArray:
    """Return the daily light integral [mol m-2 d-1].

    `par_umol` scalar or array at full light [umol m-2 s-1], zero or more; `full_hours` the hours of
    full light the day is worth [h], 0 to 24. The answer has the shape of `par_umol`. Definition:
    Torres & Lopez, Purdue Extension HO-238.

    >>> round(dli_mol(200.0, full_hours=12.0), 2)
    8.64
    """
    return par_umol * full_hours * MOL_PER_UMOL_HOUR
