"""The corals of a tank as spots whose light is known."""

import datetime as dt

from apps.corals.plan import placed_corals
from apps.lighting.spots import LitSpot
from apps.lightmap.lightmap import tank_light
from apps.tanks.models import Tank


def coral_spots(tank: Tank, moment: dt.datetime) -> list[LitSpot]:
    """Return the LitSpots of the corals placed today, their light brought to full level.

    The map tells PAR at the day's peak; a day curve that peaks below full level is divided out.
    """
    placed = placed_corals(tank)
    if not placed:
        return []
    light = tank_light(tank)
    schedule = light.history.schedule_at(moment)
    peak = schedule.peak if schedule and schedule.peak else 1.0
    result = light.at([(s.x_cm, s.y_cm, s.depth_cm) for _, s in placed], moment)
    return [
        LitSpot(name, spot.par_umol / peak, spot.low_umol / peak, spot.high_umol / peak)
        for (name, _), spot in zip(placed, result, strict=True)
        if spot is not None
    ]
