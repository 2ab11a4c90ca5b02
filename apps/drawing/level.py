"""A light on one level as a small map of bands, for pages beside the light map itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from apps.drawing.contours import band_colours, graded_levels, spread_over
from apps.drawing.cut import Water, bands_of
from apps.drawing.frame import Frame
from apps.drawing.legend import Scale
from apps.drawing.marks import Mark
from apps.drawing.plan import plan_frame, plan_rocks
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.scene import in_rock

NODES = 25


class PointLight(Protocol):
    """A light that can be asked at points (m, 3) [cm]."""

    def at(self, points_cm: FloatArray) -> Estimate: ...


@dataclass(frozen=True)
class LevelDrawing:
    """Bands with their colours, the words of each, rocks and ticks."""

    frame: Frame
    bands: tuple[tuple[str, str], ...]
    legend: tuple[tuple[str, str], ...]  # (words, colour)
    rocks: tuple[dict[str, str], ...]
    x_ticks: list[Mark]
    y_ticks: list[Mark]


def level_points(
    tank: Water, depth_cm: float, nodes: int = NODES
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return x (n,), y (n,) and the points (n * n, 3) of an even lattice on a level [cm]."""
    x = np.linspace(0.0, tank.length_cm, nodes)
    y = np.linspace(0.0, tank.width_cm, nodes)
    across, back = np.meshgrid(x, y)
    return x, y, np.stack([across.ravel(), back.ravel(), np.full(across.size, depth_cm)], axis=1)


def level_values(field: PointLight, tank: Water, depth_cm: float) -> FloatArray:
    """Return the PAR (n, n) of anything with at() on a level [umol m-2 s-1].

    Nodes within rock take the value of the water next to it.
    """
    x, y, points = level_points(tank, depth_cm)
    values = field.at(points).par_umol.reshape(len(y), len(x))
    inside = in_rock(tank.scene_rocks(), *points.T).reshape(values.shape)
    return spread_over(values, inside)


def draw_level(
    field: PointLight,
    tank: Water,
    *,
    depth_cm: float,
    unit: str,
    levels: Sequence[float] | None = None,
) -> LevelDrawing:
    """Return the LevelDrawing of anything with at(); `levels` when maps are to share them."""
    x, y, _ = level_points(tank, depth_cm)
    values = level_values(field, tank, depth_cm)
    if levels is None:
        levels = graded_levels(values)
    levels = tuple(levels)
    frame = plan_frame(tank)
    colours = band_colours(len(levels) + 1)
    words = [f"below {levels[0]:g}"] if levels else [f"about {values.mean():.0f}"]
    words += [f"{a:g} to {b:g}" for a, b in pairwise(levels)]
    words += [f"above {levels[-1]:g}"] if levels else []
    return LevelDrawing(
        frame=frame,
        bands=bands_of(frame.x(x), frame.y(y), values, Scale(levels, colours)),
        legend=tuple(zip(words, colours, strict=True)),
        rocks=plan_rocks(tank, frame),
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
    )


def draw_pair(
    first: PointLight, second: PointLight, tank: Water, *, depth_cm: float, unit: str
) -> tuple[LevelDrawing, ...]:
    """Return the LevelDrawings of two lights in the same bands, so that colours compare."""
    both = np.concatenate([level_values(field, tank, depth_cm) for field in (first, second)])
    levels = graded_levels(both)
    return tuple(
        draw_level(field, tank, depth_cm=depth_cm, unit=unit, levels=levels)
        for field in (first, second)
    )
