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
    ends = [*response.dose_log2[[0, -1]], *(b.middle_log2 for b in response.bins)]
    first, last = min(ends) - 0.1, max(ends) + 0.1
    tallest = max([*response.risk, *(b.share.value for b in response.bins)])
    step = next((s for s in RISK_STEPS if tallest * 1.25 <= 4 * s), 0.5)
    top = min(1.0, step * math.ceil(tallest * 1.25 / step))

    def x(dose: float) -> float:
        place: float = round(LEFT + (RIGHT - LEFT) * (dose - first) / (last - first), 1)
        return place

    def y(risk: float) -> float:
        place: float = round(BOTTOM - (BOTTOM - TOP) * min(risk, top) / top, 1)
        return place

    def path(risks: Iterable[float]) -> list[str]:
        return [f"{x(d)} {y(r)}" for d, r in zip(response.dose_log2, risks, strict=True)]

    def whisker(b: Bin) -> Whisker:
        words = f"{b.share.count} of {b.share.number}"
        share = b.share
        return Whisker(x(b.middle_log2), y(share.value), y(share.low), y(share.high), words)

    band = path(response.low) + path(response.high)[::-1]
    return Curve(
        line="M" + "L".join(path(response.risk)),
        band="M" + "L".join(band) + "Z",
        marks=tuple(whisker(b) for b in response.bins),
        x_ticks=tuple(Tick(x(p), label) for p, label in RATIO_TICKS if first <= p <= last),
        y_ticks=tuple(
            Tick(y(risk), f"{100 * risk:.3g} %") for risk in np.arange(0, top + step / 2, step)
        ),
    )


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
