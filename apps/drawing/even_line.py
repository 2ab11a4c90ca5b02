"""A line across with even odds in its middle: what lies right of it speaks for a cause."""

import math
from dataclasses import dataclass

# The line reaches from odds x 1/16 to x 16 [log2], as the lags do; what lies beyond ends there.
REACH_LOG2 = 4.0
# The outermost marks stand this far from the ends, so that a dot is whole [%].
EDGE_PERCENT = 3.0


@dataclass(frozen=True)
class EvenLine:
    """A dot and the ends of its interval, the dot's own place where it has none [% of width]."""

    mark: float
    low: float
    high: float


def odds_line(ratio: float, *, low: float, high: float) -> EvenLine | None:
    """Return the EvenLine of odds with their interval [1]; None where there are no odds.

    An end that does not exist is the end of the line.

    >>> odds_line(1.0, low=0.25, high=float("nan"))
    EvenLine(mark=50.0, low=26.5, high=97.0)
    """
    if math.isnan(ratio):
        return None
    return EvenLine(
        mark=odds_percent(ratio),
        low=odds_percent(0.0 if math.isnan(low) else low),
        high=odds_percent(math.inf if math.isnan(high) else high),
    )


def odds_percent(ratio: float) -> float:
    """Return where odds [1] lie across [%], 0 and infinity at the ends."""
    power = math.log2(ratio) if 0 < ratio < math.inf else math.copysign(REACH_LOG2, ratio - 1)
    return percent_of(min(max(power / REACH_LOG2, -1.0), 1.0))


def share_line(share: float) -> EvenLine:
    """Return the EvenLine of a proportion of 0 to 1 [1], whose even is a half.

    >>> share_line(0.75).mark
    73.5
    """
    at = percent_of(2.0 * share - 1.0)
    return EvenLine(at, at, at)


def percent_of(side: float) -> float:
    """Return where a place from -1 (left end) over 0 (even) to 1 (right end) lies across [%]."""
    return round(50.0 + (50.0 - EDGE_PERCENT) * side, 1)
