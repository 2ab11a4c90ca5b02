from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from apps.tanks.access import readable_tank


@login_required
def light_map(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    return render(request, "surveys/light_map.html", {"tank": tank})
