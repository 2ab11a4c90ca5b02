"""Two surveys of one tank held against each other where both read: mostly, two meters."""

import numpy as np
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from apps.photics.day.cross_check import Ratio, common_places, ratio_of
from apps.surveys.access import readable_survey
from apps.surveys.models import Survey

# Readings nearer than this stand for one place [cm], about a sensor's head and a hand's aim.
WITHIN_CM = 2.0


@login_required
def survey_cross_check(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = readable_survey(request.user, survey_pk)
    others = survey.tank.surveys.present().exclude(pk=survey.pk).newest_first()
    # The same light is needed: a part of it is no partner of the whole.
    others = list(others.filter(channel=survey.channel).select_related("meter"))
    partner = request.GET.get("with", "")
    chosen = next((other for other in others if str(other.pk) == partner), None)
    context = {"survey": survey, "tank": survey.tank, "others": others, "chosen": chosen}
    if chosen:
        chosen.tank = survey.tank
        context |= compare(survey, chosen)
    return render(request, "surveys/meters/survey_cross_check.html", context)


def meters_verdict(ratio: Ratio) -> str:
    """Say whether two meters differ by their Ratio."""
    if ratio.is_one:
        return "No difference between them shows."
    return "They differ. Which of them is right, a comparison of two cannot tell."


def compare(first: Survey, second: Survey) -> dict[str, object]:
    """Return the pairs of common places and the ratio second / first, corrected and as shown.

    Each is taken at its survey's level of the lights, brought to full.
    """
    sides = [list(survey.readings.all()) for survey in (first, second)]
    places = [[(r.x_cm, r.y_cm, r.depth_cm) for r in rows] for rows in sides]
    pairs = common_places(*places, within_cm=WITHIN_CM)
    shown = [
        np.array([rows[i].value_umol for i in pairs[:, side]], float) * 100.0 / survey.level_percent
        for side, (rows, survey) in enumerate(zip(sides, (first, second), strict=True))
    ]
    corrected = [
        values * survey.correction_factor
        for values, survey in zip(shown, (first, second), strict=True)
    ]
    ratio = ratio_of(*corrected)
    return {
        "pairs": [
            (sides[0][i], float(a), float(b), float(b / a) if a else None)
            for (i, _), a, b in zip(pairs, *corrected, strict=True)
        ],
        "ratio": ratio,
        "verdict": meters_verdict(ratio) if ratio else "",
        "ratio_shown": ratio_of(*shown),
        "within_cm": WITHIN_CM,
    }
