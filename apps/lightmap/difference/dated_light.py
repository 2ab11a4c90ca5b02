"""The light of a tank on a date or by one survey, as it is set against another light."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from django.utils import timezone

from apps.drawing.cut import Water
from apps.drawing.level import PointLight
from apps.lighting.history import Change
from apps.lightmap.lightmap import TankLight, tank_light
from apps.lightmap.logged_factors import guesses
from apps.lightmap.shown_field import ShownField
from apps.lightmap.survey_map import LazyMap, TankMap, fit_survey
from apps.photics.field.light_field import LightField
from apps.surveys.meters.scales import scale_of
from apps.surveys.models import Survey
from apps.tanks.models import Tank

SURVEYS, DATES = "Surveys, as measured", "Dates"
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


def of_surveys(tank: Tank, surveys: Iterable[Survey]) -> Iterator[Comparable]:
    """Yield each survey with readings by those alone, in the order given."""
    for survey in surveys:
        if survey.readings.all():
            name = f"Survey of {day_words(survey.day())}"
            make = partial(of_survey, tank, survey)
            yield Comparable(f"survey-{survey.pk}", SURVEYS, name, make)


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


def before_changes(tank: Tank, changes: Iterable[Change]) -> Iterator[Comparable]:
    """Yield the light of the day before each change that touched it, the last change first."""
    touching = (change for change in changes if change.touches_light)
    days = {change.happened_at.astimezone(tank.zone).date() for change in touching}
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
    serving, followed = light.map_for(moment), light.map_at(moment)
    if serving is None or followed is None:
        return None
    shown = ShownField(
        followed.mapped,
        light.history.factor_between(serving.factor_from, moment),
        guesses(light.history.vague_between(serving.vague_from, moment)),
    )
    survey = serving.survey if isinstance(serving, LazyMap) else None
    readings = survey.readings.all() if survey else ()
    depths = [reading.depth_cm for reading in readings] or [tank.depth_cm / 2]
    scale = scale_of(survey) if survey else None
    seen_by = SeenBy(light, serving, moment)
    return ComparedLight(name, tank, shown, float(np.median(depths)), scale, seen_by)
