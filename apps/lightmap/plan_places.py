"""Places for the plan of a survey that the light map knows: the corals', and the most telling."""

import datetime as dt

from django.utils import timezone

from apps.lightmap.lightmap import tank_light
from apps.lightmap.pins import pins_for
from apps.photics.field.light_field import LightField
from apps.photics.field.next_points import next_points
from apps.surveys.plan.patterns import Place
from apps.tanks.models import Tank


def coral_places(tank: Tank) -> list[Place]:
    """Return the place of every pin [cm]: the light at the corals themselves."""
    return [Place(p.x_cm, p.y_cm, p.depth_cm, p.name[:80]) for p in pins_for(tank)]


def telling_places(tank: Tank, count: int) -> list[Place]:
    """Return the places whose readings would make the light of now surest, the most telling first.

    None where no survey of the tank carries a map yet, or nothing shines.
    """
    field = field_now(tank, timezone.now())
    if field is None:
        return []
    spots_cm = [(p.x_cm, p.y_cm, p.depth_cm) for p in pins_for(tank)] or None
    places = next_points(field, count, spots_cm=spots_cm)
    return [Place(float(x), float(y), float(depth)) for x, y, depth in places]


def field_now(tank: Tank, now: dt.datetime) -> LightField | None:
    """Return the light field of a moment, None where it is dark or no map serves it."""
    followed = tank_light(tank).map_at(now)
    return None if followed is None else followed.mapped
