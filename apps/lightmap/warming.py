"""Light fields fitted before a keeper waits for them: after an upgrade nothing is kept yet."""

import time
from collections.abc import Iterable

from django.utils import timezone

from apps.lightmap.lightmap import read_light
from apps.lightmap.survey_map import ready_to_draw
from apps.tanks.models import Tank


def warm_fields(tanks: Iterable[Tank], *, seconds: float) -> tuple[int, int]:
    """Fit and keep the light of every survey of the tanks, one after another.

    No tank is begun after so many seconds [s]. Returns how many tanks were gone through and how
    many of their surveys carry a map.
    """
    until, gone_through, mapped = time.monotonic() + seconds, 0, 0
    for tank in tanks:
        if time.monotonic() > until:
            break
        mapped += _warm(tank)
        gone_through += 1
    return gone_through, mapped


def _warm(tank: Tank) -> int:
    """Keep the maps of a tank's surveys and of its light now; return how many surveys have one."""
    light = read_light(tank)
    # Asking for a map keeps it.
    for survey_map in light.maps:
        ready_to_draw(survey_map.fitted)
    today = light.map_at(timezone.now())
    if today is not None:
        ready_to_draw(today)
    return sum(survey_map.field is not None for survey_map in light.maps)
