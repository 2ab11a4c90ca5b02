"""What of a tank's light has grown stale: the map, the tubes, the meter's check."""

import datetime as dt
from collections.abc import Iterable, Iterator

import numpy as np
from django.urls import reverse

from apps.common.units import plus_minus
from apps.drawing.level import level_points
from apps.lighting.history import LightHistory
from apps.lightmap.lightmap import TankLight, tank_light
from apps.lightmap.page.overview import half_width_of
from apps.lightmap.page.query import AS_MEASURED
from apps.lightmap.pins import pins_for
from apps.lightmap.spot_light import SpotLight
from apps.photics.ground.arrays import FloatArray
from apps.surveys.meter_models import CHECK_GOOD_FOR
from apps.surveys.models import Survey
from apps.tanks.models import Tank
from apps.tanks.reminding import Reminder

# A map is stale when what the changes since add leaves its middle spot less sure than this, and
# less sure than it was by this factor [%, 1]. House rules.
UNSURE_PERCENT, UNSURE_TIMES = 25.0, 1.25
# Hours of light after which tubes are commonly replaced [h]: nine to twelve months of ten hours.
# Common practice, no published source.
TUBE_HOURS = 3300.0
# Tubes that last longer than this are none to be reminded of yet [d].
FORESEEN_DAYS = 3650.0
# Spots along each side of a level where no coral stands.
SPOTS_A_SIDE = 4


def light_reminders(tank: Tank, now: dt.datetime) -> list[Reminder]:
    """Return the Reminders of a tank's map, tubes and meter."""
    light = tank_light(tank)
    return [*map_reminders(tank, light, now), *tube_reminders(tank, light.history, now),
            *meter_reminders(tank, light, now)]  # fmt: skip


def map_reminders(tank: Tank, light: TankLight, now: dt.datetime) -> Iterator[Reminder]:
    """Yield a Reminder where changes since the survey left the map less sure than it should be."""
    serving = light.measured_map_for(now)
    if serving is None or serving.taken_at > now:
        return
    points = watched_points(tank, serving.survey)
    then = half_width_percent(light.at(points, serving.taken_at))

    def is_stale(moment: dt.datetime) -> bool:
        wide = half_width_percent(light.at(points, moment))
        if wide is None or then is None:
            return False
        return wide > UNSURE_PERCENT and wide > UNSURE_TIMES * then

    # What was undone since, such as a lamp hung back, asks for no survey any more.
    changes = light.history.between(serving.taken_at, now) if is_stale(now) else ()
    first = next((change for change in changes if is_stale(change.happened_at)), None)
    if first is not None:
        yield Reminder(
            key=f"map-{serving.survey_pk}",
            due_on=first.happened_at.astimezone(tank.zone).date(),
            title="Survey the light again",
            why=f"Light changes since “{first.summary}” have made the map of "
            f"{serving.survey.day():%-d %b %Y} less sure{sureness_words(tank, now)}.",
            url=reverse("survey_new", args=[tank.pk]),
        )


def sureness_words(tank: Tank, now: dt.datetime) -> str:
    """Say how sure the light map is now and was when measured, with the figures of its page.

    These are of all the water: where they hardly moved, it is the corals' light that is unsure.
    """
    wide, then = half_width_of(tank, now), half_width_of(tank, now, shown=AS_MEASURED)
    if wide is None or then is None or wide <= then or plus_minus(wide) == plus_minus(then):
        return " at the corals"
    return f": {plus_minus(wide)} now, {plus_minus(then)} when measured"


def watched_points(tank: Tank, survey: Survey) -> FloatArray:
    """Return where a map should be sure: at the corals, else over the usual depth, (m, 3) [cm]."""
    pins = pins_for(tank)
    if pins:
        return np.array([(pin.x_cm, pin.y_cm, pin.depth_cm) for pin in pins], float)
    usual = float(np.median([reading.depth_cm for reading in survey.readings.all()]))
    return level_points(tank, usual, SPOTS_A_SIDE)[2]


def half_width_percent(lights: Iterable[SpotLight | None]) -> float | None:
    """Return half the width of the middle spot's interval [%]; None in the dark."""
    lit = [one for one in lights if one is not None and one.par_umol > 0]
    if not lit:
        return None
    return float(np.median([50 * (one.high_umol - one.low_umol) / one.par_umol for one in lit]))


def tube_reminders(tank: Tank, history: LightHistory, now: dt.datetime) -> Iterator[Reminder]:
    """Yield a Reminder for the tubes that hang, on the day their hours run out."""
    tubes = [lamp for lamp in history.lamps_at(now) or () if lamp.fixture.kind == "tube"]
    # The hours of a whole log take their time, and most tanks have no tubes.
    ages, due = history.ages_at(now) if tubes else {}, []
    for lamp in tubes:
        daily = history.daily_hours(lamp, now)
        if daily and (days := (TUBE_HOURS - ages[lamp.key]) / daily) < FORESEEN_DAYS:
            due.append((now + dt.timedelta(days=days), lamp))
    if not due:
        return
    due_on, first = min(due, key=lambda one: one[0])
    yield Reminder(
        key=f"tubes-{first.number}",
        due_on=due_on.astimezone(tank.zone).date(),
        title="Replace the tubes",
        why=f"“{first.fixture.name}” has {ages[first.key]:.0f} hours on it by the light log; tubes "
        f"are usually replaced at about {TUBE_HOURS:.0f}.",
        url=reverse("light_change_new", args=[tank.pk]),
    )


def meter_reminders(tank: Tank, light: TankLight, now: dt.datetime) -> Iterator[Reminder]:
    """Yield a Reminder for the meter used last, a year after it was last checked."""
    used = [m.survey for m in light.maps if m.survey.meter_id and m.taken_at <= now]
    if not used:
        return
    survey = used[-1]
    meter = survey.meter
    checked_on = meter.checked_by(now.date())
    due = survey.day() if checked_on is None else checked_on + CHECK_GOOD_FOR
    yield Reminder(
        key=f"meter-{meter.pk}",
        due_on=due,
        title="Check the meter",
        why=f"{meter.label}: "
        + (meter.check_caution(max(due, now.date())) or "Its last check will be a year old."),
        url=reverse("survey_cross_check", args=[survey.pk]),
    )
