"""The rocks of a tank, as simple boxes."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from apps.common.idempotency import once
from apps.common.removal import bring_back, offer_undo
from apps.tanks.access import writable_tank
from apps.tanks.deleted import leads_on_when_deleted
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
        return redirect("tank_detail", tank.pk)
    context = {"tank": tank, "rock": rock, "form": form}
    return render(request, template, context, status=422 if form.errors else 200)


@login_required
@require_POST
@leads_on_when_deleted("rock", by="rock_pk")
def rock_remove(request, tank_pk, rock_pk):
    tank = writable_tank(request.user, tank_pk)
    get_object_or_404(tank.rocks.present(), pk=rock_pk).remove()
    undo = reverse("rock_restore", args=[tank_pk, rock_pk])
    offer_undo(request, "The rock was taken away.", undo)
    return redirect("tank_detail", tank_pk)


@login_required
@require_POST
@leads_on_when_deleted("rock", by="rock_pk")
def rock_restore(request, tank_pk, rock_pk):
    tank = writable_tank(request.user, tank_pk)
    bring_back(request, get_object_or_404(tank.rocks, pk=rock_pk).restore, "The rock is back.")
    return redirect("tank_detail", tank_pk)
