"""What the survey that serves a tank now gives a plan: its law, and outputs of what hung then."""

import datetime as dt
from dataclasses import dataclass

from apps.lighting.models import Zone
from apps.lighting.rig import rig_in_force
from apps.lightmap.lightmap import tank_light
from apps.lightmap.survey_map import surveys_for_fitting
from apps.photics.layout.measured_rig import fitted_law, measured_output
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import TankLaw
from apps.tanks.models import Tank


@dataclass(frozen=True)
class MeasuredTank:
    """The law of a tank by a survey, and the outputs of what shone on it then."""

    surveyed_on: dt.date
    law: TankLaw
    outputs: dict[int, OutputEstimate]  # by the fixture of the library


def measured_tank(tank: Tank, now: dt.datetime) -> MeasuredTank | None:
    """Return the MeasuredTank of a tank, None unless its map is fitted to known fixtures."""
    serving = tank_light(tank).measured_map_for(now)
    if serving is None or serving.field is None:
        return None
    field = serving.anchored
    if field.calibrated is None or field.rig_fit is None:
        return None
    hanging = rig_in_force(tank, serving.followed_from)
    # The map was fitted to what shone on the display then, in this order.
    lit = [row for row in hanging if row.zone == Zone.DISPLAY and row.light_percent > 0]
    numbers: dict[int, list[int]] = {}
    for k, row in enumerate(lit):
        if row.fixture_id is not None:
            numbers.setdefault(row.fixture_id, []).append(k)
    return MeasuredTank(
        serving.taken_at.astimezone(tank.zone).date(),
        fitted_law(field.calibrated),
        {pk: measured_output(field.calibrated, of_one) for pk, of_one in numbers.items()},
    )


def newer_survey_day(tank: Tank, surveyed_on: dt.date | None, now: dt.datetime) -> dt.date | None:
    """Return the day of a survey a plan made now would rest on, if newer than the plan's; None.

    `surveyed_on` is the day of the survey the plan rests on, None where it rests on none.
    """
    days = [s.taken_at.astimezone(tank.zone).date() for s in surveys_for_fitting(tank)]
    if not days or (surveyed_on and max(days) <= surveyed_on):
        return None
    measured = measured_tank(tank, now)
    if measured is None or (surveyed_on and measured.surveyed_on <= surveyed_on):
        return None
    return measured.surveyed_on
