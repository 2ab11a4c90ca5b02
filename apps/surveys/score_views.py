"""How the forecasts did: every survey against what was foretold for its readings."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from apps.surveys.lightmap import tank_light
from apps.surveys.scoring import running_score
from apps.tanks.access import may_write, readable_tank


@login_required
def forecast_scores(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    context = {
        "tank": tank,
        "running": running_score(tank_light(tank)),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "surveys/forecast_scores.html", context)
