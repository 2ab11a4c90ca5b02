"""The light of several tanks at one depth, each drawn small, all on the one PAR scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.drawing.legend import PAR_SCALE, Legend, legend_of
from apps.drawing.level import LevelDrawing, draw_level
from apps.lightmap.compare.comparing import mean_umol
from apps.lightmap.compare.lights import of_tank
from apps.lightmap.difference.dated_light import ComparedLight
from apps.tanks.models import ShownTank

# Chosen: half way down the shallowest tank there is water in all of them [1].
USUAL_PART = 0.5


@dataclass(frozen=True)
class SmallMap:
    """A tank's light on a level; `drawing` is None where no light is known, or it is shallower."""

    showing: ShownTank
    drawing: LevelDrawing | None
    mean_umol: float = 0.0
    why_not: str = ""


@dataclass(frozen=True)
class SideBySide:
    """Small maps at a depth [cm], with the legend they share."""

    depth_cm: float
    maps: tuple[SmallMap, ...]
    legend: Legend


def side_by_side(showings: Sequence[ShownTank], *, depth_cm: float | None, unit: str) -> SideBySide:
    """Return the SideBySide of tanks, half down the shallowest where no depth is given [cm]."""
    shallowest = min((showing.tank.depth_cm for showing in showings), default=0.0)
    at_cm = USUAL_PART * shallowest if depth_cm is None else depth_cm
    maps = tuple(small_map(showing, depth_cm=at_cm, unit=unit) for showing in showings)
    return SideBySide(at_cm, maps, legend_of(PAR_SCALE))


def small_map(showing: ShownTank, *, depth_cm: float, unit: str) -> SmallMap:
    """Return a tank's SmallMap of today."""
    if depth_cm > showing.tank.depth_cm:
        return SmallMap(showing, None, why_not="It is not that deep.")
    light: ComparedLight | None = of_tank(showing.tank)
    if light is None:
        return SmallMap(showing, None, why_not="No light is known of it yet.")
    drawing = draw_level(light.light, light.tank, depth_cm=depth_cm, unit=unit)
    return SmallMap(showing, drawing, mean_umol(light, depth_cm))
