"""The light of one planned layout as the map draws it: cuts through water nobody measured yet."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.drawing.cut import OnCut
from apps.lightmap.page.looks import LOOKS, PAR
from apps.lightmap.page.planes import MapPlanes, MapView, draw_planes
from apps.lightmap.pins import Pin
from apps.photics.field.light_field import LightField, nodes
from apps.photics.ground.arrays import ArrayLike, FloatArray
from apps.photics.ground.estimate import Estimate, GridEstimate, SectionEstimate
from apps.photics.ground.scene import Rock, Tank
from apps.photics.layout.hanging import Layout
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.question import Question


@dataclass(frozen=True)
class PlannedTank:
    """The box of a question as the map's drawings need it."""

    box: Tank
    rocks: tuple[Rock, ...]

    @property
    def length_cm(self) -> float:
        return self.box.length_cm

    @property
    def width_cm(self) -> float:
        return self.box.width_cm

    @property
    def depth_cm(self) -> float:
        return self.box.depth_cm

    def scene(self) -> Tank:
        return self.box

    def scene_rocks(self) -> tuple[Rock, ...]:
        return self.rocks


@dataclass(frozen=True)
class PlannedLight:
    """Cuts of a planned field, worked out exactly at their nodes."""

    field: LightField

    def cut(self, x_cm: FloatArray, down: str, down_cm: FloatArray, *, at_cm: float) -> Estimate:
        """Return the Estimate of a plane, arrays (nd, nx), at axes (nx,) and (nd,) [cm].

        `down` is its second axis, "y_cm" or "depth_cm"; the other one lies at a length [cm].
        """
        across, second = np.meshgrid(x_cm, down_cm)
        third = np.full_like(across, at_cm)
        y, depth = (second, third) if down == "y_cm" else (third, second)
        light = self.field.at(np.stack([across, y, depth], axis=-1).reshape(-1, 3))
        shape = across.shape
        return Estimate(
            par_umol=light.par_umol.reshape(shape),
            low_umol=light.low_umol.reshape(shape),
            high_umol=light.high_umol.reshape(shape),
            extrapolated=light.extrapolated.reshape(shape),
            in_rock=light.in_rock.reshape(shape),
        )

    def at(self, points_cm: ArrayLike) -> Estimate:
        """Return the Estimate at points (m, 3) [cm]."""
        return self.field.at(points_cm)

    def block(self, x_cm: FloatArray, y_cm: FloatArray, depth_cm: FloatArray) -> Estimate:
        """Return what the scale of colours looks at: the Estimate of a block of the water [cm]."""
        grid = np.stack(np.meshgrid(x_cm, y_cm, depth_cm, indexing="ij"), axis=-1)
        return self.field.at(grid.reshape(-1, 3))

    def grid(self, depth_cm: float, step_cm: float) -> GridEstimate:
        """Return the GridEstimate at a depth, its nodes about a step apart [cm]."""
        tank = self.field.tank
        x, y = nodes(tank.length_cm, step_cm), nodes(tank.width_cm, step_cm)
        light = self.cut(x, "y_cm", y, at_cm=depth_cm)
        return GridEstimate(x, y, float(depth_cm), **vars(light))

    def section(self, y_cm: float, step_cm: float) -> SectionEstimate:
        """Return the SectionEstimate at a distance from the front, in steps [cm]."""
        tank = self.field.tank
        x, depth = nodes(tank.length_cm, step_cm), nodes(tank.depth_cm, step_cm)
        light = self.cut(x, "depth_cm", depth, at_cm=y_cm)
        return SectionEstimate(x, depth, float(y_cm), **vars(light))


def answer_planes(
    question: Question,
    layout: Layout,
    *,
    depth_cm: float,
    y_cm: float,
    unit: str,
    pins: Sequence[Pin],
) -> MapPlanes:
    """Return the MapPlanes of a layout's planned light, cut at [cm], with Pins on it.

    Lengths are in `unit`.
    """
    fixtures, outputs = layout.fixtures(question)
    field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
    light, tank = PlannedLight(field), PlannedTank(question.tank, question.rocks)
    view = MapView(LOOKS[PAR], depth_cm, y_cm)
    return draw_planes(light, tank, view, over=OnCut(pins=pins), pins=pins, unit=unit)
