from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from apps.tanks.access import readable_tank
from apps.tanks.models import Tank


@login_required
def tank_list(request):
    return render(request, "tanks/tank_list.html", {"tanks": Tank.objects.visible_to(request.user)})


@login_required
def tank_detail(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    return render(request, "tanks/tank_detail.html", {"tank": tank})
