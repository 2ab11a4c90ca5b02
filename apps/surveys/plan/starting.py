"""Starting a survey of now at places that are chosen already, so that it is read in a minute."""

import datetime as dt
from collections.abc import Sequence

from django.db import transaction

from apps.accounts.models import User
from apps.surveys.models import Meter, Survey
from apps.surveys.plan.patterns import Place
from apps.surveys.plan.points import add_points
from apps.tanks.models import Tank


@transaction.atomic
def start_survey(
    *, tank: Tank, places: Sequence[Place], like: Survey, by: User, now: dt.datetime
) -> Survey:
    """Return a survey of now with these places planned.

    like: another whose meter it is read by, where that is the keeper's own. A survey that was
    started at the same places since then and has no reading yet is taken up again.
    """
    survey = unread_survey(tank, places, since=like.taken_at)
    if survey is None:
        survey = Survey(tank=tank, created_by=by)
        meter = like.meter
        # Its factor is that of its day.
        survey.taken_at = now
        if meter is not None and Meter.objects.usable_by(by).contains(meter):
            survey.meter, survey.spectral_factor = meter, like.spectral_factor
            survey.take_meter_factor()
    survey.taken_at = now
    survey.full_clean()
    survey.save()
    add_points(survey=survey, places=places)
    return survey


def unread_survey(tank: Tank, places: Sequence[Place], *, since: dt.datetime) -> Survey | None:
    """Return the newest survey planned at just these places that has no reading yet."""
    wanted = {(p.x_cm, p.y_cm, p.depth_cm) for p in places}
    started = tank.surveys.present().filter(taken_at__gt=since, readings=None, channel="")
    for survey in started.newest_first().prefetch_related("planned_points"):
        if {(p.x_cm, p.y_cm, p.depth_cm) for p in survey.planned_points.all()} == wanted:
            return survey
    return None
