"""A coral's daily light over time against its band; its PAR where the hours are not known."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from apps.corals.coral.light_steps import LightStep
from apps.corals.models import Coral
from apps.drawing.line_ends import LineEnd, spread
from apps.drawing.marks import Tick
from apps.drawing.time_axis import (
    Step,
    TimeAxis,
    ValueAxis,
    band_path,
    kind_paths,
    value_axis,
)
from apps.lightmap.spot_light import SpotLight
from apps.photics.ground.usual_bands import band_dli_mol

HEIGHT = 140
# An interval may reach far beyond its line where nothing was measured: the drawing stops here.
TALLEST = 3.0
MEASURED, RECKONED = "measured", "reckoned"


@dataclass(frozen=True)
class Quantity:
    """What is drawn: its name, its digits, and what a PAR of 1 is worth under a SpotLight."""

    key: str
    name: str
    digits: int
    per_umol: Callable[[SpotLight], float]

    def words(self, value: float) -> str:
        return f"{value:.{self.digits}f}"


PAR = Quantity("par", "PAR at the day’s peak", 0, lambda light: 1.0)
DLI = Quantity(
    "dli", "Daily light (DLI), mol/m² a day", 1, lambda light: (light.dli_mol or 0) / light.par_umol
)


@dataclass(frozen=True)
class LightPlot:
    """One stepped line over time, ready to draw: paths 1000 wide, heights in pixels."""

    key: str
    name: str
    ticks: tuple[Tick, ...]
    interval: str
    wanted: str
    measured: str
    reckoned: str
    ends: tuple[LineEnd, ...]
    clipped: bool
    height: int = HEIGHT


def quantity_of(lights: Iterable[SpotLight]) -> Quantity:
    """Return DLI where the hours of all of these lights are known, else PAR."""
    return DLI if all(at.dli_mol is not None and at.par_umol > 0 for at in lights) else PAR


def light_plot(steps: Iterable[LightStep], axis: TimeAxis, coral: Coral) -> LightPlot | None:
    """Return the LightPlot of a coral's light, or None when no light is known at any time.

    The interval goes along with the hours, and so does a band that its keeper typed as PAR.
    """
    lit = [(step, step.light) for step in steps if step.light]
    if not lit:
        return None
    quantity = quantity_of(light for _, light in lit)
    worth = [quantity.per_umol(light) for _, light in lit]
    rows = list(zip(lit, worth, strict=True))
    lines = [between(s, at.par_umol * w, at.par_umol * w, manner(at)) for (s, at), w in rows]
    interval = [between(s, at.low_umol * w, at.high_umol * w) for (s, at), w in rows]
    wanted = [between(s, *wanted_in(coral, at, quantity)) for s, at in lit]
    value = axis_of(lines, interval, wanted)
    paths = kind_paths(lines, time=axis, value=value)
    return LightPlot(
        key=quantity.key,
        name=quantity.name,
        ticks=value.ticks(),
        interval=band_path(interval, time=axis, value=value),
        wanted=band_path(wanted, time=axis, value=value),
        measured=paths.get(MEASURED, ""),
        reckoned=paths.get(RECKONED, ""),
        ends=ends_of(lines[-1], wanted[-1], value, quantity),
        clipped=max(step.high for step in interval) > value.top,
    )


def wanted_in(coral: Coral, light: SpotLight, quantity: Quantity) -> tuple[float, float]:
    """Return the ends of a coral's band under the day of a SpotLight, in a Quantity."""
    band = coral.band(light.full_hours)
    ends = band.low_umol, band.high_umol
    if quantity is PAR or not light.full_hours:
        return ends
    return band_dli_mol(ends, full_hours=light.full_hours)


def between(step: LightStep, low: float, high: float, kind: str = "") -> Step:
    return Step(step.start, step.end, low, high, kind)


def axis_of(lines: Sequence[Step], interval: Sequence[Step], wanted: Sequence[Step]) -> ValueAxis:
    """Return the ValueAxis that holds the band and the line, and of a wide interval what fits."""
    top = max(step.high for step in [*lines, *wanted])
    widest = max(step.high for step in interval)
    lowest = min(step.low for step in [*interval, *wanted])
    tallest = TALLEST * max(step.high for step in lines)
    return value_axis(max(top, min(widest, tallest)), smallest=lowest, height=HEIGHT)


def ends_of(line: Step, wanted: Step, value: ValueAxis, quantity: Quantity) -> tuple[LineEnd, ...]:
    """Return the labels at the right: the last light, and the ends of the band by then."""
    ends = [
        LineEnd(value.y(line.low), quantity.words(line.low), "line"),
        LineEnd(value.y(wanted.high), f"up to {quantity.words(wanted.high)}", "wanted"),
        LineEnd(value.y(wanted.low), f"from {quantity.words(wanted.low)}", "wanted"),
    ]
    return spread(ends, height=HEIGHT)


def manner(light: SpotLight) -> str:
    """Return how a light is drawn: plain when measured where it is, else broken."""
    is_read = light.measured and not light.extrapolated and not light.measured_later
    return MEASURED if is_read else RECKONED
