"""The rocks of a tank, as simple boxes."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from apps.common.idempotency import once
from apps.tanks.access import writable_tank
from apps.tanks.forms import RockForm
from apps.tanks.models import Rock


@login_required
@require_http_methods(["GET", "POST"])
@once()
def rock_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    return _answer(request, tank, Rock(tank=tank), "tanks/rock_new.html")


@login_required
@require_http_methods(["GET", "POST"])
def rock_edit(request, tank_pk, rock_pk):
    tank = writable_tank(request.user, tank_pk)
    rock = get_object_or_404(tank.rocks.present(), pk=rock_pk)
    return _answer(request, tank, rock, "tanks/rock_edit.html")


def _answer(request, tank, rock, template):
    form = RockForm(request.POST or None, instance=rock, unit=request.user.units)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Rock saved.")
        return redirect("tank_settings", tank.pk)
    context = {"tank": tank, "rock": rock, "form": form}
    return render(request, template, context, status=422 if form.errors else 200)
