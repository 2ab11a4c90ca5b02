"""A light on one level as a small map of bands, for pages beside the light map itself."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from apps.drawing.contours import spread_over
from apps.drawing.cut import Span, Water, box_of, hidden_by
from apps.drawing.drawn_light import DrawnLight, draw_light, line_levels
from apps.drawing.frame import Frame
from apps.drawing.legend import PAR_SCALE, Legend, legend_of
from apps.drawing.marks import Mark
from apps.drawing.plan import plan_frame, plan_rocks
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.scene import Rock

NODES = 25


class PointLight(Protocol):
    """A light that can be asked at points (m, 3) [cm]."""

    def at(self, points_cm: FloatArray) -> Estimate: ...


@dataclass(frozen=True)
class LevelDrawing:
    """The light with its labelled lines, the legend, rocks and ticks."""

    frame: Frame
    light: DrawnLight
    legend: Legend
    rocks: tuple[tuple[dict[str, str], bool], ...]  # and whether the level goes through each
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

    Nodes within rock or on a side of it take the value of the water next to it.
    """
    x, y, points = level_points(tank, depth_cm)
    values = field.at(points).par_umol.reshape(len(y), len(x))
    return spread_over(values, hidden_by(spans_on(tank, depth_cm), x, y))


def spans_on(tank: Water, depth_cm: float) -> list[Span]:
    """Return where a level goes through rocks, each from x to x and from y to y [cm]."""
    cut = [rock for rock in tank.scene_rocks() if cuts(rock, depth_cm)]
    return [(r.x_cm, r.x_cm + r.length_cm, r.y_cm, r.y_cm + r.width_cm) for r in cut]


def cuts(rock: Rock, depth_cm: float) -> bool:
    """Return whether a level goes through a rock."""
    return rock.depth_cm < depth_cm < rock.depth_cm + rock.height_cm


def draw_level(field: PointLight, tank: Water, *, depth_cm: float, unit: str) -> LevelDrawing:
    """Return the LevelDrawing of anything with at(), in the colours of every PAR map."""
    x, y, _ = level_points(tank, depth_cm)
    values = level_values(field, tank, depth_cm)
    frame = plan_frame(tank)
    return LevelDrawing(
        frame=frame,
        light=draw_light(
            (frame.x(x), frame.y(y)),
            values,
            line_levels(PAR_SCALE, values),
            PAR_SCALE,
            beyond=np.zeros(values.shape, bool),
            frame=frame,
            taken=[box_of(frame, span) for span in spans_on(tank, depth_cm)],
        ),
        legend=legend_of(PAR_SCALE),
        rocks=tuple(
            (rectangle, cuts(rock, depth_cm))
            for rectangle, rock in zip(plan_rocks(tank, frame), tank.scene_rocks(), strict=True)
        ),
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
    )
