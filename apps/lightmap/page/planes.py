"""The two cuts of a light as the map draws them, and what the level amounts to."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np

from apps.drawing.cut import CELLS, Drawing, OnCut, Water, hidden_by
from apps.drawing.drawn_light import line_levels
from apps.drawing.legend import Legend, Scale, legend_of
from apps.drawing.level import PointLight
from apps.drawing.plan import draw_plan
from apps.drawing.section import draw_section
from apps.lightmap.band_share import band_share
from apps.lightmap.page.changed import ChangedField, with_change
from apps.lightmap.page.fine_cut import refined
from apps.lightmap.page.looks import (
    CHANGE,
    CutLight,
    Look,
    PlaneEstimate,
    SmoothLight,
    scale_for,
)
from apps.lightmap.pins import BandState, Pin, state_in_band
from apps.photics.ground.arrays import BoolArray
from apps.photics.ground.estimate import GridEstimate, SectionEstimate
from apps.photics.ground.scene import Rock
from apps.tanks.models import Tank

# Columns and rows of the table of values.
TABLE_STEPS = 6
Cut = TypeVar("Cut", GridEstimate, SectionEstimate)


@dataclass(frozen=True)
class MapView:
    """What is drawn of the light and where the two cuts lie [cm]."""

    look: Look
    depth_cm: float
    y_cm: float
    # Why another look than the query names is shown.
    look_problem: str = ""
    # The band of PAR that is drawn out, low and high [umol m-2 s-1].
    wanted: tuple[float, float] | None = None
    # The light it is set against, as it stands behind "brighter than".
    than: str = ""


@dataclass(frozen=True)
class PlaneFacts:
    """What the plane shown amounts to, averaged over its area [umol m-2 s-1, %]."""

    min_umol: float
    mean_umol: float
    max_umol: float
    uniformity: float
    beyond_percent: float
    in_band_percent: float
    surely_percent: float
    perhaps_percent: float


@dataclass(frozen=True)
class PinLight:
    """A pin with the light at its own depth."""

    number: int
    pin: Pin
    par_umol: float
    low_umol: float
    high_umol: float
    extrapolated: bool
    state: BandState
    # Nobody reads light within rock: the coral's or the rock's place is off.
    in_rock: bool


@dataclass(frozen=True)
class ValueTable:
    """The level in numbers: x of the columns, rows of y and values from back to front [cm]."""

    x_cm: tuple[float, ...]
    rows: tuple[tuple[float, list[dict[str, float | bool]]], ...]


@dataclass(frozen=True)
class MapPlanes:
    """A light drawn on a level and on an upright cut, in one scale; each drawn when first shown."""

    light: CutLight
    water: Water
    view: MapView
    over: OnCut
    unit: str
    pin_lights: tuple[PinLight, ...]

    @cached_property
    def scale(self) -> Scale:
        """The colours of both."""
        return scale_for(self.view.look, self.view.wanted)

    @cached_property
    def legend(self) -> Legend:
        """What the colours mean."""
        return legend_of(self.scale)

    @cached_property
    def level(self) -> GridEstimate:
        """The light on the level shown."""
        return self.level_in(CELLS)

    def level_in(self, cells: int) -> GridEstimate:
        """Return the light on the level shown, in so many cells along its longer side."""
        longest_cm = max(self.water.length_cm, self.water.width_cm)
        return self.light.grid(self.view.depth_cm, longest_cm / cells)

    @cached_property
    def plan(self) -> Drawing:
        """The level from above."""
        fine, y_cm, read = self.fine(self.level, self.level_in), self.view.y_cm, self.level
        values, scale, over = self.view.look.values(self.light, fine), self.scale, self.over
        drawn = draw_plan(
            fine, values, scale, self.water, y_cm=y_cm, over=over, unit=self.unit, read=read
        )
        return self.with_change(drawn, read)

    @cached_property
    def upright(self) -> SectionEstimate:
        """The light on the upright cut shown."""
        return self.upright_in(CELLS)

    def upright_in(self, cells: int) -> SectionEstimate:
        """Return the light on the upright cut shown, in so many cells along its longer side."""
        longest_cm = max(self.water.length_cm, self.water.depth_cm)
        return self.light.section(self.view.y_cm, longest_cm / cells)

    @cached_property
    def section(self) -> Drawing:
        """The upright cut from the front."""
        read, depth_cm = self.upright, self.view.depth_cm
        fine = self.fine(read, self.upright_in)
        values, scale, over = self.view.look.values(self.light, fine), self.scale, self.over
        drawn = draw_section(
            fine, values, scale, self.water, depth_cm=depth_cm, over=over, unit=self.unit, read=read
        )
        return self.with_change(drawn, read)

    def with_change(self, drawn: Drawing, cut: PlaneEstimate) -> Drawing:
        """Return a drawing with what belongs to a change, where it is one."""
        if self.view.look.key != CHANGE or not isinstance(self.light, ChangedField):
            return drawn
        return with_change(drawn, self.light, cut, self.view.than)

    def ready(self) -> "MapPlanes":
        """Return it with both drawn, so that it can be kept."""
        for name in ("legend", "plan", "section"):
            getattr(self, name)
        return self

    def fine(self, cut: Cut, cut_in: Callable[[int], Cut]) -> Cut:
        """Return a cut with finer nodes where lines of PAR pass; other looks have few lines.

        `cut_in` makes the same cut in so many cells.
        """
        if self.view.look.levels:
            return cut
        if isinstance(self.light, SmoothLight) and self.light.is_smooth:
            # Its nodes are read off a lattice: twice as many cost less than to work out some.
            return cut_in(2 * CELLS)
        levels = sorted({*line_levels(self.scale, cut.par_umol), *(self.view.wanted or ())})
        return refined(self.light, cut, levels)


def draw_planes(
    light: CutLight, water: Water, view: MapView, *, over: OnCut, pins: Sequence[Pin], unit: str
) -> MapPlanes:
    """Return the MapPlanes of a light, with what lies `over` it; pins are numbered."""
    return MapPlanes(light, water, view, over, unit, pin_lights(light, pins))


def plane_facts(
    grid: GridEstimate,
    *,
    low_umol: float,
    high_umol: float,
    common_log: float = 0.0,
    rocks: Sequence[Rock] = (),
) -> PlaneFacts:
    """Return the PlaneFacts of a GridEstimate for a band [umol m-2 s-1].

    `common_log`: half the width that all points' intervals have in common [log] (`band_share`).

    Nodes at a wall stand for half a cell, at a corner for a quarter: the trapezoid rule. Those
    within one of the `rocks` or on a side of it count for nothing, unless rock fills the plane.
    """
    cut = [rock for rock in rocks if rock.depth_cm < grid.depth_cm < rock.depth_cm + rock.height_cm]
    spans = [(r.x_cm, r.x_cm + r.length_cm, r.y_cm, r.y_cm + r.width_cm) for r in cut]
    water = ~(grid.in_rock | hidden_by(spans, grid.x_cm, grid.y_cm))
    water |= not water.any()
    weight = water.astype(float)
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        weight[edge] /= 2.0

    def percent(mask: BoolArray) -> float:
        return 100.0 * float((weight * mask).sum() / weight.sum())

    par = grid.par_umol
    share = band_share(
        par,
        grid.low_umol,
        grid.high_umol,
        weight,
        band=(low_umol, high_umol),
        common_log=common_log,
    )
    mean = float((weight * par).sum() / weight.sum())
    return PlaneFacts(
        min_umol=float(par[water].min()),
        mean_umol=mean,
        max_umol=float(par[water].max()),
        uniformity=float(par[water].min()) / mean,
        beyond_percent=percent(grid.extrapolated),
        in_band_percent=share.percent,
        surely_percent=share.surely_percent,
        perhaps_percent=share.perhaps_percent,
    )


def pin_lights(light: PointLight, pins: Sequence[Pin]) -> tuple[PinLight, ...]:
    """Return a PinLight for each Pin, numbered as on the drawings."""
    if not pins:
        return ()
    places = np.array([(pin.x_cm, pin.y_cm, pin.depth_cm) for pin in pins], float)
    there = light.at(places)
    lights = []
    for i, pin in enumerate(pins):
        ends = float(there.par_umol[i]), float(there.low_umol[i]), float(there.high_umol[i])
        inside = bool(there.in_rock[i])
        state = state_in_band(None if inside else ends, pin.band_low_umol, pin.band_high_umol)
        beyond = bool(there.extrapolated[i])
        lights.append(PinLight(i + 1, pin, *ends, beyond, state, in_rock=inside))
    return tuple(lights)


def value_table(light: CutLight, tank: Tank, depth_cm: float) -> ValueTable:
    """Return the ValueTable of the level at a depth [cm]."""
    grid = light.grid(depth_cm, max(tank.length_cm, tank.width_cm) / TABLE_STEPS)
    outside = tank.scene().outside(grid.x_cm[None, :], grid.y_cm[:, None])
    rows = []
    for j in reversed(range(len(grid.y_cm))):
        cells = [
            {
                "par": float(grid.par_umol[j, i]),
                "low": float(grid.low_umol[j, i]),
                "high": float(grid.high_umol[j, i]),
                "beyond": bool(grid.extrapolated[j, i]),
                "in_rock": bool(grid.in_rock[j, i]),
                "outside": bool(outside[j, i]),
            }
            for i in range(len(grid.x_cm))
        ]
        rows.append((float(grid.y_cm[j]), cells))
    return ValueTable(tuple(grid.x_cm.tolist()), tuple(rows))
