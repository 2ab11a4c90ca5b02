"""How the forecasts did: every survey against what was foretold for its readings."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from apps.lightmap.check.fouling import fouling_of
from apps.lightmap.check.scoring import running_score
from apps.lightmap.check.words import fouling_verdict
from apps.lightmap.lightmap import tank_light
from apps.tanks.access import may_write, readable_tank


@login_required
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
