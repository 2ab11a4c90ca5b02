"""The light of one planned layout as the map draws it: cuts through water nobody measured yet."""

from dataclasses import dataclass

import numpy as np

from apps.drawing.cut import OnCut
from apps.lightmap.page.looks import LOOKS, PAR
from apps.lightmap.page.planes import MapView, draw_planes
from apps.photics.field.light_field import nodes
from apps.photics.ground.estimate import GridEstimate, SectionEstimate
from apps.photics.ground.scene import Rock, Tank
from apps.photics.layout.planned_light import planned_field


@dataclass(frozen=True)
class PlannedTank:
    """The box of a question as the map's drawings ask for it."""

    scene: Tank
    rocks: tuple[Rock, ...]

    @property
    def length_cm(self):
        return self.scene.length_cm

    @property
    def width_cm(self):
        return self.scene.width_cm

    @property
    def depth_cm(self):
        return self.scene.depth_cm

    def scene_rocks(self):
        return self.rocks


@dataclass(frozen=True)
class PlannedLight:
    """Cuts of a planned field, worked out exactly at their nodes."""

    field: object

    def cut(self, x_cm, y_cm, depth_cm):
        """Return the five Estimate arrays on three axes, each (nx, ny, nz)."""
        grid = np.stack(np.meshgrid(x_cm, y_cm, depth_cm, indexing="ij"), axis=-1)
        result = self.field.at(grid.reshape(-1, 3))
        return tuple(array.reshape(grid.shape[:3]) for array in vars(result).values())

    def at(self, points_cm):
        """Return the Estimate at points (m, 3) [cm]."""
        return self.field.at(points_cm)

    def block(self, x_cm, y_cm, depth_cm):
        """Return what the scale of colours looks at: the Estimate of a block of the water."""
        grid = np.stack(np.meshgrid(x_cm, y_cm, depth_cm, indexing="ij"), axis=-1)
        return self.field.at(grid.reshape(-1, 3))

    def grid(self, depth_cm, step_cm):
        tank = self.field.tank
        x, y = nodes(tank.length_cm, step_cm), nodes(tank.width_cm, step_cm)
        result = self.cut(x, y, np.array([depth_cm]))
        return GridEstimate(x, y, float(depth_cm), *(array[:, :, 0].T for array in result))

    def section(self, y_cm, step_cm):
        tank = self.field.tank
        x, depth = nodes(tank.length_cm, step_cm), nodes(tank.depth_cm, step_cm)
        result = self.cut(x, np.array([y_cm]), depth)
        return SectionEstimate(x, depth, float(y_cm), *(array[:, 0, :].T for array in result))


def answer_planes(asked, answer, *, depth_cm, y_cm, unit, pins):
    """Return the MapPlanes of an answer's planned light, with Pins on it."""
    question = asked.question
    fixtures, outputs = answer.layout.fixtures(question)
    field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
    light, tank = PlannedLight(field), PlannedTank(question.tank, question.rocks)
    view = MapView(LOOKS[PAR], depth_cm, y_cm)
    return draw_planes(light, tank, view, over=OnCut(pins=pins), pins=pins, unit=unit)
