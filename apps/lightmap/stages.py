"""How far a new tank's light is measured."""

import datetime as dt

from django.urls import reverse

from apps.lightmap.lightmap import tank_light
from apps.tanks.beginning import Stage
from apps.tanks.models import Tank


def survey_stages(tank: Tank, now: dt.datetime) -> list[Stage]:
    """Return the Stages a tank's surveys know."""
    newest = tank.surveys.present().newest_first().first()
    has_map = newest is not None and tank_light(tank).has_map
    to_enter = newest is not None and not has_map
    return [
        Stage(
            "survey",
            "Survey the light",
            "Borrow a PAR meter for an afternoon, and plan where to read.",
            reverse("survey_list" if newest else "survey_new", args=[tank.pk]),
            is_done=newest is not None,
        ),
        Stage(
            "map",
            "See the light map",
            "It takes readings at four spots or more; a few dozen make a good one.",
            reverse("survey_detail", args=[newest.pk])
            if to_enter
            else reverse("light_map", args=[tank.pk]),
            is_done=has_map,
        ),
    ]
