"""The lights that can be set side by side: of surveys, dates, forecasts, other tanks and plans."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from apps.accounts.models import User
from apps.common.registry import Registry
from apps.lightmap.difference.dated_light import (
    DATES,
    Comparable,
    ComparedLight,
    before_changes,
    day_words,
    of_surveys,
    on_day,
    seen_at,
)
from apps.lightmap.lightmap import tank_light
from apps.tanks.models import Tank

FORECASTS, TANKS, PLANS = "Forecasts", "Other tanks, today", "Plans"

# What apps above can set beside a tank's light: provider(user, tank) returns Comparables.
PLANNED: Registry[Comparable] = Registry()


def comparables(user: User, tank: Tank) -> list[Comparable]:
    """Return all Comparables of a tank for a user, the newest of each group first."""
    light = tank_light(tank)
    return [
        *of_surveys(tank, (lazy.survey for lazy in reversed(light.maps))),
        Comparable(f"day-{tank.today()}", DATES, "Today", partial(on_day, tank, tank.today())),
        *before_changes(tank, light.history.changes),
        *forecasts(tank),
        *of_other_tanks(user, tank),
        *PLANNED.collect(user, tank),
    ]


def forecasts(tank: Tank) -> Iterator[Comparable]:
    """Yield what was foretold for each survey by those before it."""
    for place, lazy in reversed(list(enumerate(tank_light(tank).maps))):
        if place:
            name = f"Forecast for {day_words(lazy.survey.day())}, before it was measured"
            make = partial(foretold, tank, place, name)
            yield Comparable(f"forecast-{lazy.survey_pk}", FORECASTS, name, make)


def foretold(tank: Tank, place: int, name: str) -> ComparedLight | None:
    """Return the light of a survey's moment by the surveys before it."""
    light = tank_light(tank)
    before = replace(light, maps=light.maps[:place], unread=None)
    return seen_at(tank, before, light.maps[place].taken_at, name)


def of_other_tanks(user: User, tank: Tank) -> Iterator[Comparable]:
    """Yield the light today of every other tank that a user may see."""
    for other in Tank.objects.visible_to(user).exclude(pk=tank.pk).order_by("name", "pk"):
        make = partial(of_tank, other)
        yield Comparable(f"tank-{other.pk}", TANKS, other.name, make)


def of_tank(tank: Tank) -> ComparedLight | None:
    """Return another tank's light today, by its name."""
    light = on_day(tank, tank.today())
    return None if light is None else replace(light, name=tank.name)
