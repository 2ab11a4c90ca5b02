"""How the forecasts did, and the check readings that make the present one surer."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.htmx import go_to
from apps.common.idempotency import once
from apps.lightmap.check.check_readings import check_proposal
from apps.lightmap.check.fouling import fouling_of
from apps.lightmap.check.scoring import running_score
from apps.lightmap.check.words import fouling_verdict
from apps.lightmap.lightmap import tank_light
from apps.surveys.plan.starting import start_survey
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page

NOTHING_TO_CHECK = (
    "There is nothing to check: the light was read since it last changed, or nothing shines."
)


@login_required
@kept_page(readable_tank)
def forecast_scores(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    light = tank_light(tank)
    running = running_score(light)
    fouling = fouling_of(light, running.scores, timezone.now())
    context = {
        "tank": tank,
        "running": running,
        "fouling": fouling,
        "fouling_verdict": fouling_verdict(fouling),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "lightmap/check/forecast_scores.html", context)


@login_required
@require_POST
@once()
def check_new(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Start a survey of now at the proposed spots and lead to the pad."""
    tank, now = writable_tank(request.user, tank_pk), timezone.now()
    proposal = check_proposal(tank, now)
    if proposal is None:
        messages.success(request, NOTHING_TO_CHECK)
        return go_to(request, reverse("tank_detail", args=[tank.pk]))
    survey = start_survey(
        tank=tank, places=proposal.places, like=proposal.last_survey, by=request.user, now=now
    )
    return go_to(request, reverse("survey_enter", args=[survey.pk]))
