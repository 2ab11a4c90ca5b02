"""The page on which two surveys of one tank are held against each other."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from apps.surveys.access import readable_survey
from apps.surveys.meters.cross_check import chosen_partner, compare, is_of_own_meters, partners


@login_required
def survey_cross_check(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = readable_survey(request.user, survey_pk)
    others = list(partners(survey))
    chosen = chosen_partner(survey, request.GET.get("with", ""))
    context = {"survey": survey, "tank": survey.tank, "others": others, "chosen": chosen}
    if chosen:
        context |= compare(survey, chosen)
        own = is_of_own_meters(request.user, survey, chosen)
        context["may_keep"] = own and context["ratio"] is not None
    return render(request, "surveys/meters/survey_cross_check.html", context)
