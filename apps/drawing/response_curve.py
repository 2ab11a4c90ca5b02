"""The dose-response curve and the lag strip as paths of an SVG 360 wide."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from apps.drawing.marks import Tick
from apps.photics.causes.association import Lag
from apps.photics.causes.response_curves import Bin, DoseResponse

WIDTH, HEIGHT = 360.0, 220.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 348.0, 12.0, 184.0
# Powers of two that are labelled: light for 1 that the coral was used to.
RATIO_TICKS = ((-2, "¼"), (-1, "½"), (-0.5, "0.7"), (0, "1"), (0.5, "1.4"), (1, "2"), (2, "4"))
RISK_STEPS = (0.001, 0.0025, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5)
# Room above the tallest [1] and beside the outermost dose [log2]: chosen, so that no mark is cut.
ROOM_ABOVE, ROOM_BESIDE_LOG2 = 1.25, 0.1
# The lag strip reaches from odds x 1/16 to x 16.
LAG_REACH_LOG2, LAG_ROW = 4.0, 34.0


@dataclass(frozen=True)
class Whisker:
    """One bin of visits, or one lag: its place, its interval, and its words."""

    x: float
    y: float
    low: float
    high: float
    words: str


@dataclass(frozen=True)
class Curve:
    line: str
    band: str
    marks: tuple[Whisker, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]


@dataclass(frozen=True)
class LagStrip:
    height: float
    marks: tuple[Whisker, ...]
    ticks: tuple[Tick, ...]


def draw_curve(response: DoseResponse | None) -> Curve | None:
    """Return the Curve of a DoseResponse, None without one.

    Bins stand at their visits' mean dose; an interval beyond the top ends there.
    """
    if response is None:
        return None
    axes = axes_of(response)

    def path(risks: Iterable[float]) -> list[str]:
        pairs = zip(response.dose_log2, risks, strict=True)
        return [f"{axes.x(dose)} {axes.y(risk)}" for dose, risk in pairs]

    band = path(response.low) + path(response.high)[::-1]
    return Curve(
        line="M" + "L".join(path(response.risk)),
        band="M" + "L".join(band) + "Z",
        marks=tuple(axes.whisker(b) for b in response.bins),
        x_ticks=axes.x_ticks(),
        y_ticks=axes.y_ticks(),
    )


@dataclass(frozen=True)
class CurveAxes:
    """Doses from first to last across [log2], risks from 0 to top upward [1]."""

    first: float
    last: float
    top: float
    step: float  # from one label of the risk to the next

    def x(self, dose: float) -> float:
        """Return where a dose [log2] lies across."""
        share = (dose - self.first) / (self.last - self.first)
        place: float = round(LEFT + (RIGHT - LEFT) * share, 1)
        return place

    def y(self, risk: float) -> float:
        """Return where a risk [1] lies from the top, one beyond the top at its edge."""
        place: float = round(BOTTOM - (BOTTOM - TOP) * min(risk, self.top) / self.top, 1)
        return place

    def whisker(self, visits: Bin) -> Whisker:
        """Return the Whisker of one bin of visits."""
        share = visits.share
        words = f"{share.count} of {share.number}"
        y, low, high = self.y(share.value), self.y(share.low), self.y(share.high)
        return Whisker(self.x(visits.middle_log2), y, low, high, words)

    def x_ticks(self) -> tuple[Tick, ...]:
        """Return the Ticks of the doses shown."""
        return tuple(
            Tick(self.x(p), label) for p, label in RATIO_TICKS if self.first <= p <= self.last
        )

    def y_ticks(self) -> tuple[Tick, ...]:
        """Return the Ticks of the risks, 0 included."""
        risks = np.arange(0, self.top + self.step / 2, self.step)
        return tuple(Tick(self.y(risk), f"{100 * risk:.3g} %") for risk in risks)


def axes_of(response: DoseResponse) -> CurveAxes:
    """Return the CurveAxes that hold a DoseResponse and its bins, ending on a round risk."""
    ends = [*response.dose_log2[[0, -1]], *(b.middle_log2 for b in response.bins)]
    tallest = ROOM_ABOVE * max([*response.risk, *(b.share.value for b in response.bins)])
    step = next((s for s in RISK_STEPS if tallest <= 4 * s), RISK_STEPS[-1])
    top = min(1.0, step * math.ceil(tallest / step))
    return CurveAxes(min(ends) - ROOM_BESIDE_LOG2, max(ends) + ROOM_BESIDE_LOG2, top, step)


def draw_lags(lags: Sequence[Lag]) -> LagStrip | None:
    """Return the LagStrip of a lag profile, None without one; ends beyond the strip stop there."""
    if not lags:
        return None

    def x(ratio: float) -> float:
        power = math.log2(ratio) if ratio > 0 else -LAG_REACH_LOG2
        share = 0.5 + min(max(power / LAG_REACH_LOG2, -1), 1) / 2
        return round(LEFT + (RIGHT - LEFT) * share, 1)

    marks = tuple(
        Whisker(
            x(lag.ratio_per_doubling),
            LAG_ROW * (k + 0.5),
            x(lag.low) if lag.low == lag.low else LEFT,
            x(lag.high) if lag.high == lag.high else RIGHT,
            f"{lag.weeks_before}",
        )
        for k, lag in enumerate(lags)
    )
    ticks = tuple(
        Tick(x(2.0**power), label)
        for power, label in ((-3, "⅛"), (-1, "½"), (0, "1"), (1, "2"), (3, "8"))
    )
    return LagStrip(LAG_ROW * len(lags), marks, ticks)
