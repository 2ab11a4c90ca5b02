"""The review of a survey: before the meter goes back, and next to the survey before."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from apps.common.reading_once import reading_once
from apps.common.units import format_length
from apps.lighting.history import LightHistory, light_history
from apps.lightmap.check.scoring import survey_score
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.joined_words import contradiction_words
from apps.lightmap.page.next import FEWEST, next_readings
from apps.lightmap.page.query import MapQuery
from apps.lightmap.pins import pins_for
from apps.lightmap.review.reviewing import (
    change_at,
    corrected_points,
    coverage,
    disagreeing_readings,
    readings_within_rock,
)
from apps.lightmap.stated_outputs import StatedOutputs
from apps.lightmap.survey_map import SurveyMap, fit_survey, surveys_for_fitting
from apps.surveys.access import readable_survey
from apps.surveys.meters.scales import scale_of
from apps.surveys.models import Reading, Survey
from apps.surveys.plan.drawing import draw_points
from apps.tanks.access import may_write
from apps.tanks.kept_pages.pages import kept_page

# How many light changes between two surveys a review names; the light log has them all.
CHANGES_NAMED = 3

Context = dict[str, object]


@dataclass(frozen=True)
class ShimmerPoint:
    """A reading with a spread, marked by what that is of its value [%]."""

    number: int
    x_cm: float
    y_cm: float
    depth_cm: float
    reading: Reading


@login_required
@kept_page(readable_survey)
@reading_once()
def survey_review(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = readable_survey(request.user, survey_pk)
    tank, unit = survey.tank, request.user.units
    history = light_history(tank)
    # One channel alone stands by itself: the others' surveys are of all light.
    earlier = [] if survey.channel else surveys_for_fitting(tank)
    fitted = fit_survey(survey, history, earlier, StatedOutputs(tank, history))
    within_rock = readings_within_rock(survey)
    context: Context = {
        "survey": survey,
        "tank": tank,
        "unit": unit,
        "fitted": fitted,
        "corrected": corrected_points(survey),
        "within_rock": within_rock,
        "may_write": may_write(request.user, tank),
        **_shimmer(survey, unit),
    }
    if fitted.field is not None:
        disagreeing = disagreeing_readings(survey, fitted.field)
        context |= {
            "disagreeing": disagreeing,
            "to_check": len(
                {one.number for one in disagreeing} | {one.number for one in within_rock}
            ),
            "covered": coverage(rested_on(survey, fitted, earlier), fitted.field),
            "next": next_readings(fitted.field, FEWEST, pins_for(tank)),
            "typical": fitted.field.summary.typical_error_percent,
            "contradiction": contradiction_words(fitted.field.summary.against_others),
        }
        if not survey.channel:
            context |= _change(request, survey, earlier, history)
    if not survey.channel:
        context["score"] = survey_score(tank_light(tank), survey)
    return render(request, "lightmap/review/survey_review.html", context)


def rested_on(survey: Survey, fitted: SurveyMap, earlier: Sequence[Survey]) -> list[Survey]:
    """Return the surveys a SurveyMap rests on, the survey's own among them."""
    keys = {part.survey_pk for part in fitted.rests_on}
    others = [s for s in earlier if s.pk in keys and s.pk != survey.pk]
    return [survey, *others]


def _shimmer(survey: Survey, unit: str) -> Context:
    marked = [
        ShimmerPoint(round(100 * r.spread_umol / r.value_umol), r.x_cm, r.y_cm, r.depth_cm, r)
        for r in survey.readings.all()
        if r.spread_umol and r.value_umol
    ]
    if not marked:
        return {"shimmer": None}
    plan, side = draw_points(survey.tank, marked, unit=unit)
    return {"shimmer": marked, "plan": plan, "side": side}


def _change(
    request: HttpRequest, survey: Survey, others: Sequence[Survey], history: LightHistory
) -> Context:
    """Compare with an earlier survey: the one of the query, or the last before this.

    Each by its own readings alone: joined, they would share what they are to be compared by.
    """
    tank = survey.tank
    query = MapQuery.read(request.GET, tank=tank, unit=request.user.units)
    moment = (survey.taken_at, survey.pk)
    field = fit_survey(survey, history).field
    earlier = [s for s in others if (s.taken_at, s.pk) < moment][::-1]
    fits = [(s, result) for s in earlier if (result := fit_survey(s, history).field) is not None]
    if field is None or not fits:
        return {"before": None, "is_first": field is not None}
    before, first = next(((s, f) for s, f in fits if s.pk == query.survey_pk), fits[0])
    usual = float(np.median([reading.depth_cm for reading in survey.readings.all()]))
    depth_cm = usual if query.depth_cm is None else query.depth_cm
    between = history.between(before.taken_at, survey.taken_at)
    return {
        "before": before,
        "earlier": [s for s, _ in fits],
        "depth_cm": depth_cm,
        "depth_text": format_length(depth_cm, request.user.units),
        "change": change_at(
            tank,
            first,
            field,
            one_meter=scale_of(before) == scale_of(survey),
            depth_cm=depth_cm,
            unit=request.user.units,
        ),
        "changes_between": between,
        "last_changes": between[-CHANGES_NAMED:],
        "earlier_changes": len(between) > CHANGES_NAMED,
        "problems": query.problems,
    }
