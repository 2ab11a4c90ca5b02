"""How close measuring points should stand on a level: the grid rule of EN 12464-1.

A rule for lit rooms and work places. A tank is only a small one of them, so here it advises.
"""

import math
from dataclasses import dataclass

# p = 0.2 * 5^log10(d) [m], at most 10 m; EN 12464-1:2021, 4.4 (also EN 12464-1:2011, 4.4).
FACTOR_M, BASE, SPACING_MAX_M = 0.2, 5.0, 10.0
# With a side more than twice the other, the shorter one counts; EN 12464-1:2021, 4.4.
LONG_RATIO = 2.0
# The least number of points along a side in the table of spacings of EN 12464-1:2021, from memory.
POINTS_MIN = 3


@dataclass(frozen=True)
class RuleGrid:
    """A level of nx by ny points: their greatest spacing p and their places [cm].

    The first and last points stand half of p from the sides.
    """

    spacing_cm: float
    x_cm: tuple[float, ...]
    y_cm: tuple[float, ...]

    @property
    def count(self) -> int:
        """Return how many points the level has."""
        return len(self.x_cm) * len(self.y_cm)


def spacing_cm(side_cm: float) -> float:
    """Return the spacing p for a side [cm]; raises ValueError for one of no length.

    EN 12464-1:2021, 4.4.

    >>> round(spacing_cm(100.0), 6)
    20.0
    """
    if not side_cm > 0:
        raise ValueError("A side is longer than nothing.")
    spacing_m: float = FACTOR_M * BASE ** math.log10(side_cm / 100.0)
    return 100.0 * min(spacing_m, SPACING_MAX_M)


def rule_grid(*, length_cm: float, width_cm: float) -> RuleGrid:
    """Return the RuleGrid of a level of water, length by width [cm]; EN 12464-1:2021, 4.4.

    Raises ValueError for a side of no length.

    >>> grid = rule_grid(length_cm=500.0, width_cm=400.0)
    >>> len(grid.x_cm), len(grid.y_cm), round(grid.spacing_cm, 1)
    (8, 6, 61.6)
    """
    longer, shorter = max(length_cm, width_cm), min(length_cm, width_cm)
    p = spacing_cm(longer if longer <= LONG_RATIO * shorter else shorter)
    return RuleGrid(p, _places(length_cm, spacing=p), _places(width_cm, spacing=p))


def _places(side_cm: float, *, spacing: float) -> tuple[float, ...]:
    """Return the places along a side [cm] whose points are about a spacing [cm] apart."""
    count = max(POINTS_MIN, round(side_cm / spacing))
    # A side shorter than a spacing or two has its three points at its sixths.
    first = min(spacing, side_cm / count) / 2.0
    step = (side_cm - 2.0 * first) / (count - 1)
    return tuple(first + i * step for i in range(count))
