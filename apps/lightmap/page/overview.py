"""What is known of a tank's light today, in a line."""

import datetime as dt

from django.urls import reverse
from django.utils.text import capfirst

from apps.lightmap.lightmap import tank_light
from apps.lightmap.provenance import provenance_words
from apps.tanks.models import Tank
from apps.tanks.overview import Line


def map_lines(tank: Tank, now: dt.datetime) -> list[Line]:
    """Return the Line of a tank's light map; none before a survey carries one."""
    light = tank_light(tank)
    serving = light.map_for(now)
    if serving is None:
        return []
    words = provenance_words(tank.zone, **light.provenance(serving, now))
    error = serving.mapped.summary.typical_error_percent
    more = () if error is None else (f"Typically {error:.0f} % off on the day of the survey",)
    return [
        Line(
            "map",
            "Light map",
            reverse("light_map", args=[tank.pk]),
            words=capfirst(words),
            more=more,
        )
    ]
