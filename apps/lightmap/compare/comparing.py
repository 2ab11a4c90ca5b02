"""Two lights at one depth: each drawn, and their ratio where they share a water."""

import math
from dataclasses import dataclass

import numpy as np

from apps.drawing.level import LevelDrawing, draw_level, level_points
from apps.lightmap.difference.at_points import change_at_points
from apps.lightmap.difference.dated_light import ComparedLight
from apps.lightmap.review.reviewing import ChangeFacts, change_facts
from apps.photics.ground.scene import out_of_water

# Tanks whose sides differ by no more are one water [cm]: how well a keeper measures.
SAME_SIZE_CM = 1.0
# A median change of less is none [1]: chosen, since nobody could see it.
SAME_WITHIN = 0.01


@dataclass(frozen=True)
class Comparison:
    """Two lights at a depth [cm]; `change` is None where their waters differ."""

    first: ComparedLight
    second: ComparedLight
    depth_cm: float
    drawings: tuple[LevelDrawing, LevelDrawing]
    means_umol: tuple[float, float]
    change: ChangeFacts | None

    @property
    def percent(self) -> float:
        """How much brighter the second is, in the middle of all spots or on average [%]."""
        first, second = self.means_umol
        return 100.0 * ((self.change.middle if self.change else second / first) - 1.0)

    @property
    def way(self) -> str:
        """Which way the light differs, in a word."""
        if abs(self.percent) < 100.0 * SAME_WITHIN:
            return "the same as"
        return "brighter than" if self.percent > 0 else "dimmer than"

    @property
    def size_percent(self) -> float:
        return abs(self.percent)

    @property
    def sure_percent(self) -> float:
        """Of how much of the area the difference is more than the uncertainty [%]."""
        return 100.0 - self.change.noise_percent if self.change else 0.0


def compare(
    first: ComparedLight, second: ComparedLight, *, depth_cm: float | None, unit: str
) -> Comparison:
    """Return the Comparison of two lights, at the second's usual depth where none is given [cm]."""
    deepest = min(first.tank.depth_cm, second.tank.depth_cm)
    at_cm = min(second.usual_depth_cm if depth_cm is None else depth_cm, deepest)
    both = (first, second)
    change = None
    if is_one_water(first, second):
        points = level_points(second.tank, at_cm)[2]
        result = change_at_points(first, second, points)
        change = change_facts(second.tank, result, depth_cm=at_cm, unit=unit)
    drawn = [draw_level(one.light, one.tank, depth_cm=at_cm, unit=unit) for one in both]
    means = [mean_umol(one, at_cm) for one in both]
    return Comparison(first, second, at_cm, (drawn[0], drawn[1]), (means[0], means[1]), change)


def is_one_water(first: ComparedLight, second: ComparedLight) -> bool:
    """Return whether two lights can be asked at the same points."""
    sides = ("length_cm", "width_cm", "depth_cm")
    a, b = first.tank, second.tank
    if a.scene().is_box != b.scene().is_box:
        return False
    return all(abs(getattr(a, side) - getattr(b, side)) <= SAME_SIZE_CM for side in sides)


def mean_umol(one: ComparedLight, depth_cm: float) -> float:
    """Return the mean PAR over the open water at a depth [umol m-2 s-1]."""
    points = level_points(one.tank, depth_cm)[2]
    free = ~out_of_water(one.tank.scene(), one.tank.scene_rocks(), *points.T)
    par = one.light.at(points[free] if free.any() else points).par_umol
    mean = float(np.mean(par))
    return mean if math.isfinite(mean) else 0.0
