"""A number's own usual range, from its history: the limits of an individuals chart."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

# Mean range of two draws from a normal law, in deviations (d2 for n = 2): NIST/SEMATECH e-Handbook
# of Statistical Methods, 6.3.2.2, https://www.itl.nist.gov/div898/handbook/pmc/section3/pmc322.htm
D2_OF_TWO = 1.128
# Three deviations, as on the same page.
LIMIT_SD = 3.0
# Chosen, because fewer values give limits that mean little.
HISTORY_MIN = 8


@dataclass(frozen=True)
class OwnRange:
    """Where a new value usually falls, in the unit of the history, from `n` values."""

    centre: float
    low: float
    high: float
    n: int

    def side(self, value: float) -> str:
        """Return "above", "below" or "within" for a `value` in the unit of the history."""
        if value > self.high:
            return "above"
        return "below" if value < self.low else "within"


def own_range(history: ArrayLike) -> OwnRange | None:
    """Return the OwnRange of a history, or None for fewer than HISTORY_MIN values.

    `history` (n,) in the order of time, any unit, which is that of the range. Mean, plus and minus
    three deviations estimated by the mean moving range of neighbours over 1.128:
    neighbours share slow drift, so that drift does not hide a jump. A value of a normal law falls
    outside about once in 370, with eight values of history about once in 33.
    Reference: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals charts).
    Raises ValueError for a value that is not finite.

    >>> usual = own_range([5.0, 5.2, 4.9, 5.1, 5.0, 4.8, 5.1, 5.0])
    >>> round(usual.low, 2), round(usual.high, 2)
    (4.48, 5.54)
    """
    values = np.asarray(history, float)
    if not np.all(np.isfinite(values)):
        raise ValueError("A history needs finite values.")
    if values.size < HISTORY_MIN:
        return None
    half_width = LIMIT_SD * float(np.abs(np.diff(values)).mean()) / D2_OF_TWO
    centre = float(values.mean())
    return OwnRange(centre, centre - half_width, centre + half_width, values.size)
