"""A coral's light as steps: from one change of its light or its spot to the next."""

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

from apps.corals.models import Coral, Spot
from apps.corals.status import rests_on
from apps.drawing.time_axis import TimeAxis, midnight
from apps.lightmap.lightmap import TankLight
from apps.lightmap.spot_light import SpotLight


@dataclass(frozen=True)
class LightStep:
    """A stretch of time under one light at one spot; light is None where nothing is known."""

    start: dt.datetime
    end: dt.datetime
    spot: Spot | None
    light: SpotLight | None
    rests_on: str


def light_steps(coral: Coral, light: TankLight, axis: TimeAxis) -> tuple[LightStep, ...]:
    """Return the LightSteps that fill the axis, cut where the coral moved or the light changed."""
    zone = coral.tank.zone
    moves = [midnight(spot.since, zone) for spot in coral.spots.all()]
    cuts = {m.astimezone(zone) for m in [*moves, *light.steps_between(axis.start, axis.end)]}
    moments = [axis.start, *sorted(m for m in cuts if axis.start < m < axis.end), axis.end]
    steps = []
    for start, end in pairwise(moments):
        spot = coral.spot_on(start.date())
        point = [] if spot is None else [(spot.x_cm, spot.y_cm, spot.depth_cm)]
        result = next(iter(light.at(point, start)), None)
        steps.append(LightStep(start, end, spot, result, rests_on(result, zone) if result else ""))
    return tuple(steps)
