"""The lights that can be set side by side: of surveys, dates, forecasts, other tanks and plans."""

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from django.utils import timezone

from apps.accounts.models import User
from apps.common.registry import Registry
from apps.drawing.cut import Water
from apps.drawing.level import PointLight
from apps.lightmap.lightmap import TankLight, tank_light
from apps.lightmap.logged_factors import guesses
from apps.lightmap.shown_field import ShownField
from apps.lightmap.survey_map import LazyMap, TankMap, fit_survey, map_after
from apps.photics.field.light_field import LightField
from apps.surveys.meters.scales import scale_of
from apps.surveys.models import Survey
from apps.tanks.models import Tank

SURVEYS, DATES, FORECASTS, TANKS, PLANS = (
    "Surveys, as measured", "Dates", "Forecasts", "Other tanks, today", "Plans",
)  # fmt: skip
NOON = dt.time(12)


@dataclass(frozen=True)
class SeenBy:
    """By which map of a tank's light, and at what moment, a light is seen."""

    light: TankLight
    serving: TankMap
    moment: dt.datetime


@dataclass(frozen=True)
class ComparedLight:
    """A light with its water; `scale` tells the meter it was read with (`scale_of`)."""

    name: str
    tank: Water
    light: PointLight
    usual_depth_cm: float
    scale: tuple[int, int | None] | None = None
    seen_by: SeenBy | None = None

    def without_scale(self) -> PointLight:
        """Return the light without what its meter's scale adds to the intervals."""
        if isinstance(self.light, ShownField):
            return replace(self.light, field=replace(self.light.field, meter_deviation=0.0))
        if isinstance(self.light, LightField):
            return replace(self.light, meter_deviation=0.0)
        return self.light


@dataclass(frozen=True)
class Comparable:
    """A light that can be chosen; `make` works it out, None where it can't be."""

    key: str
    group: str
    name: str
    make: Callable[[], ComparedLight | None]


# What apps above can set beside a tank's light: provider(user, tank) returns Comparables.
PLANNED: Registry[Comparable] = Registry()


def comparables(user: User, tank: Tank) -> list[Comparable]:
    """Return all Comparables of a tank for a user, the newest of each group first."""
    return [
        *of_surveys(tank),
        Comparable(f"day-{tank.today()}", DATES, "Today", partial(on_day, tank, tank.today())),
        *before_changes(tank),
        *forecasts(tank),
        *of_other_tanks(user, tank),
        *PLANNED.collect(user, tank),
    ]


def chosen(choices: Sequence[Comparable], key: str, tank: Tank) -> Comparable | None:
    """Return the Comparable of a key; `day-` and any date names the light of that date."""
    known = next((one for one in choices if one.key == key), None)
    if known is not None or not key.startswith("day-"):
        return known
    try:
        day = dt.date.fromisoformat(key.removeprefix("day-"))
    except ValueError:
        return None
    return Comparable(key, DATES, day_words(day), partial(on_day, tank, day))


def day_words(day: dt.date) -> str:
    return f"{day:%-d %b %Y}"


def of_surveys(tank: Tank) -> Iterator[Comparable]:
    """Yield each survey by its own readings alone, the newest first."""
    for lazy in reversed(tank_light(tank).maps):
        day = lazy.survey.day()
        yield Comparable(
            f"survey-{lazy.survey_pk}",
            SURVEYS,
            f"Survey of {day_words(day)}",
            partial(of_survey, tank, lazy.survey),
        )


def of_survey(tank: Tank, survey: Survey) -> ComparedLight | None:
    """Return a survey's light; by its own readings alone, lest both share what they compare.

    Where they are too few for a map of their own, together with those before them.
    """
    light = tank_light(tank)
    field = fit_survey(survey, light.history).field
    if field is None:
        lazy = next(m for m in light.maps if m.survey_pk == survey.pk)
        field = lazy.field
    if field is None:
        return None
    return ComparedLight(
        name=f"Survey of {day_words(survey.day())}",
        tank=tank,
        light=field,
        usual_depth_cm=float(np.median([r.depth_cm for r in survey.readings.all()])),
        scale=scale_of(survey),
    )


def before_changes(tank: Tank) -> Iterator[Comparable]:
    """Yield the light of the day before each change of the light, the last change first."""
    days = {
        change.happened_at.astimezone(tank.zone).date()
        for change in tank_light(tank).history.changes
        if change.touches_light
    }
    for day in sorted(days, reverse=True):
        before = day - dt.timedelta(days=1)
        name = f"{day_words(before)}, the day before a change"
        yield Comparable(f"day-{before}", DATES, name, partial(on_day, tank, before))


def on_day(tank: Tank, day: dt.date) -> ComparedLight | None:
    """Return the light of a tank at noon of a date, or now where that is today."""
    moment = dt.datetime.combine(day, NOON, tank.zone)
    light = tank_light(tank)
    moment = timezone.now() if day == tank.today() else moment
    name = "Today" if day == tank.today() else day_words(day)
    return seen_at(tank, light, moment, name)


def seen_at(tank: Tank, light: TankLight, moment: dt.datetime, name: str) -> ComparedLight | None:
    """Return a TankLight at a moment; None where no map serves it, or nothing shines."""
    serving = light.map_for(moment)
    if serving is None:
        return None
    transition = light.transition(serving, moment)
    if transition is not None and transition.is_dark:
        return None
    shown = ShownField(
        map_after(serving.fitted, transition, light.rocks).mapped,
        light.history.factor_between(serving.factor_from, moment),
        guesses(light.history.vague_between(serving.vague_from, moment)),
    )
    survey = serving.survey if isinstance(serving, LazyMap) else None
    readings = survey.readings.all() if survey else ()
    depths = [reading.depth_cm for reading in readings] or [tank.depth_cm / 2]
    scale = scale_of(survey) if survey else None
    seen_by = SeenBy(light, serving, moment)
    return ComparedLight(name, tank, shown, float(np.median(depths)), scale, seen_by)


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
