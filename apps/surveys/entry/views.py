"""Entering a survey beside the tank: the page, the address its readings are sent to, the shell."""

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie

from apps.common.devices.edits import answers_devices, decoded, require_keeper
from apps.surveys.access import writable_survey
from apps.surveys.entry.entering import entry_data
from apps.surveys.entry.syncing import read_edits, state_of, take_edits
from apps.surveys.models import Survey

PAGE = "surveys/entry/survey_enter.html"


@login_required
@ensure_csrf_cookie
@never_cache
def survey_enter(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    context = {"survey": survey, "tank": survey.tank, "entry": entry_data(survey, request.user)}
    return render(request, PAGE, context)


def entry_shell(request: HttpRequest) -> HttpResponse:
    """The same page with nobody in it: what a device keeps to start without a network.

    It is open to all and the same for all, so that a shared computer's copy tells nothing;
    the page finds its data in what this device keeps for the keeper signed in last.
    """
    request.user = AnonymousUser()
    return render(request, PAGE, {"entry": None})


@answers_devices
def survey_sync(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    if request.method == "GET":
        return _state(survey)
    sent = decoded(request.body)
    edits = read_edits(sent)
    require_keeper(request, sent.get("keeper") if isinstance(sent, dict) else None)
    taken = take_edits(survey=survey, edits=edits, by=request.user)
    refused = {str(key): problem for key, problem in taken.refused.items()}
    accepted = [str(key) for key in taken.accepted]
    return _state(survey, accepted=accepted, refused=refused)


def _state(survey: Survey, **more: object) -> JsonResponse:
    survey.refresh_from_db(fields=["version"])
    points = state_of(survey)
    saved = sum("removed" not in point for point in points)
    return JsonResponse({"version": survey.version, "saved": saved, "points": points, **more})
