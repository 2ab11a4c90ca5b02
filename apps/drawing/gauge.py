"""One value with its interval against a band, on a line across: percent of the width."""

import math
from dataclasses import dataclass

from apps.drawing.marks import Tick
from apps.drawing.time_axis import round_step

# Room beyond the band on either side, as a part of the band's own width [1].
MARGIN = 0.4
# Beyond so many band widths above the band the line ends, and an arrow says that it goes on.
FARTHEST = 2.0
# A label nearer to an end than this reaches out of the drawing unless it is held there [%].
EDGE_PERCENT = 24.0


@dataclass(frozen=True)
class Gauge:
    """A band, the interval of a value and the value itself [% of the width]."""

    band: Tick
    band_width: float
    band_end: Tick
    interval: Tick
    interval_width: float
    interval_end: Tick
    mark: Tick
    is_beyond: bool  # the value lies further right than is drawn

    @property
    def anchor(self) -> str:
        """How a label over the mark is set so that it stays within the drawing."""
        if self.mark.at < EDGE_PERCENT:
            return "start"
        return "end" if self.mark.at > 100.0 - EDGE_PERCENT else "middle"


def band_gauge(
    value: float, *, low: float, high: float, band_low: float, band_high: float
) -> Gauge:
    """Return the Gauge of a value with its interval against a band, all in one unit.

    The line reaches from below both to above both, at most FARTHEST band widths beyond the band.

    >>> band_gauge(100, low=90, high=115, band_low=75, band_high=150).band.label
    '75'
    """
    wide = band_high - band_low
    left = max(min(low, band_low) - MARGIN * wide, 0.0)
    right = min(max(high, band_high) + MARGIN * wide, band_high + FARTHEST * wide)
    step = round_step(right - left, most=20)
    left, right = step * math.floor(left / step), step * math.ceil(right / step)

    def at(amount: float) -> float:
        return round(100.0 * min(max((amount - left) / (right - left), 0.0), 1.0), 2)

    return Gauge(
        band=Tick(at(band_low), f"{band_low:.0f}"),
        band_width=round(at(band_high) - at(band_low), 2),
        band_end=Tick(at(band_high), f"{band_high:.0f}"),
        interval=Tick(at(low), f"{low:.0f}"),
        interval_width=round(at(high) - at(low), 2),
        interval_end=Tick(at(high), f"{high:.0f}"),
        mark=Tick(at(value), f"{value:.0f}"),
        is_beyond=value > right,
    )
