"""What readings give a plan: the law of its tank, and the outputs of its keeper's fixtures."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from apps.accounts.models import User
from apps.lighting.models import Fixture
from apps.lightmap.lightmap import tank_light
from apps.lightmap.stated_outputs import fixture_outputs, measured_elsewhere
from apps.lightmap.survey_map import surveys_for_fitting
from apps.photics.layout.measured_rig import fitted_law
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
    calibrated = serving.anchored.calibrated
    outputs = fixture_outputs(tank, serving.fitted)
    if calibrated is None or outputs is None:
        return None
    surveyed_on = serving.taken_at.astimezone(tank.zone).date()
    return MeasuredTank(surveyed_on, fitted_law(calibrated), outputs)


def measured_outputs(
    user: User, measured: MeasuredTank | None, *, tank: Tank | None, fixtures: Collection[Fixture]
) -> dict[int, OutputEstimate]:
    """Return {fixture of a keeper's library: OutputEstimate} of those that readings measured.

    Over the plan's tank by what is `measured` of it, else over another of the keeper's tanks.
    """
    own = measured.outputs if measured else {}
    missing = [fixture.pk for fixture in fixtures if fixture.pk not in own]
    return measured_elsewhere(user.pk, missing, but=tank) | own


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
