"""Day curves as a drawing over the hours of a day, and the figures that stand beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.drawing.marks import Tick
from apps.photics.day.curve import MINUTES_A_DAY, DayCurve, clock
from apps.photics.ground.dose import dli_mol

# The drawing's box in its own units: a day of 24 hours across, full level at the top.
LEFT, TOP, WIDTH, HEIGHT = 42, 12, 310, 150
FOOT = TOP + HEIGHT
VIEW = (LEFT + WIDTH + 8, FOOT + 24)
HOURS_A_LABEL = 6
LEVEL_LINES = (0, 50, 100)
DASHES = ("", "7 4", "2 4", "10 3 2 3")
EXAMPLE_UMOL = 100.0


@dataclass(frozen=True)
class Line:
    """One curve: its outline, the area under it, and how its line is dashed."""

    name: str
    outline: str
    area: str
    dash: str


@dataclass(frozen=True)
class CurveDrawing:
    lines: tuple[Line, ...]
    hours: tuple[Tick, ...]
    levels: tuple[Tick, ...]
    half_y: float | None  # where half of the peak lies
    start_minute: float  # the clock at the left edge
    left: int = LEFT
    right: int = LEFT + WIDTH
    top: int = TOP
    foot: int = FOOT
    wide: int = VIEW[0]
    high: int = VIEW[1]


@dataclass(frozen=True)
class CurveFigures:
    """What a day curve amounts to."""

    photoperiod_hours: float
    peak_percent: float
    hours_above_half: float
    full_hours: float
    starts: str
    ends: str
    past_midnight: bool
    example_par_umol: float
    example_dli_mol: float


def curve_drawing(curves: Sequence[tuple[str, DayCurve]]) -> CurveDrawing:
    """Return the CurveDrawing of (name, photics DayCurve) pairs."""
    start = axis_start([curve for _, curve in curves])
    lines = tuple(
        Line(name, *paths(curve, start), DASHES[i % len(DASHES)])
        for i, (name, curve) in enumerate(curves)
    )
    peak = max((curve.peak for _, curve in curves), default=0.0)
    return CurveDrawing(
        lines=lines,
        hours=tuple(
            Tick(round(LEFT + WIDTH * hour / 24, 1), clock(start + 60 * hour))
            for hour in range(0, 25, HOURS_A_LABEL)
        ),
        levels=tuple(Tick(y_of(level / 100), f"{level}") for level in LEVEL_LINES),
        half_y=y_of(peak / 2) if len(curves) == 1 and peak > 0 else None,
        start_minute=start,
    )


def axis_start(curves: Sequence[DayCurve]) -> float:
    """Return the clock at the left edge: midnight, or noon where a curve passes midnight."""
    points = [curve.points for curve in curves if curve.points]
    past = any(p[-1][0] > MINUTES_A_DAY for p in points)
    fits = all(p[0][0] >= 720 and p[-1][0] <= 720 + MINUTES_A_DAY for p in points)
    if past and not fits and len(points) == 1:
        return points[0][0][0] // 60 * 60
    return 720.0 if past else 0.0


def y_of(level: float) -> float:
    return round(FOOT - HEIGHT * level, 1)


def paths(curve: DayCurve, start: float) -> tuple[str, str]:
    """Return the outline and the closed area of a curve as SVG paths, cut at the right edge."""
    if not curve.points:
        return f"M{LEFT} {FOOT}H{LEFT + WIDTH}", ""
    outline, area = "", ""
    for piece in pieces(curve.points, start):
        corners = [(LEFT + WIDTH * at / MINUTES_A_DAY, y_of(level)) for at, level in piece]
        line = "L".join(f"{x:.1f} {y:g}" for x, y in corners)
        outline += f"M{corners[0][0]:.1f} {FOOT}L{line}V{FOOT}"
        area += f"M{corners[0][0]:.1f} {FOOT}L{line}V{FOOT}Z"
    return outline, area


def pieces(points: Sequence[tuple[float, float]], start: float) -> list[list[tuple[float, float]]]:
    """Return the points as minutes from the left edge, in two pieces where the edge cuts them."""
    first = points[0][0]
    shift = (first - start) % MINUTES_A_DAY - first
    moved = [(minute + shift, level) for minute, level in points]
    if moved[-1][0] <= MINUTES_A_DAY:
        return [moved]
    before = [p for p in moved if p[0] <= MINUTES_A_DAY]
    after = [p for p in moved if p[0] > MINUTES_A_DAY]
    (a, low), (b, high) = before[-1], after[0]
    at_edge = low + (high - low) * (MINUTES_A_DAY - a) / (b - a)
    return [
        [*before, (MINUTES_A_DAY, at_edge)],
        [(0.0, at_edge), *((m - MINUTES_A_DAY, level) for m, level in after)],
    ]


def curve_figures(curve: DayCurve) -> CurveFigures:
    """Return the CurveFigures of a photics DayCurve."""
    lit = [p for p in curve.points if p[1] > 0]
    points = curve.points if lit else ((0.0, 0.0),)
    return CurveFigures(
        photoperiod_hours=curve.photoperiod_hours,
        peak_percent=100 * curve.peak,
        hours_above_half=curve.hours_above_half,
        full_hours=curve.full_hours,
        starts=clock(points[0][0]),
        ends=clock(points[-1][0]),
        past_midnight=points[-1][0] > MINUTES_A_DAY,
        example_par_umol=EXAMPLE_UMOL,
        example_dli_mol=dli_mol(EXAMPLE_UMOL, full_hours=curve.full_hours),
    )
