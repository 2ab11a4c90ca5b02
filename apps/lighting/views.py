from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from apps.tanks.access import readable_tank


@login_required
def light_change_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    return render(request, "lighting/light_change_list.html", {"tank": tank})
