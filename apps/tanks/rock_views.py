"""The rocks of a tank, as simple boxes."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from apps.common.idempotency import once
from apps.photics.ground.lengths import to_cm
from apps.tanks.access import writable_tank
from apps.tanks.forms import DrawnRocks, RockForm
from apps.tanks.models import Rock
from apps.tanks.plan import tank_plan

# How high a rock drawn from above is until its keeper says so [share of the water's depth].
USUAL_HEIGHT = 0.5


@login_required
@require_http_methods(["GET", "POST"])
@once()
def rock_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    return _answer(request, tank, Rock(tank=tank), "tanks/rock_new.html")


@login_required
@require_http_methods(["GET", "POST"])
@once()
def rock_draw(request, tank_pk):
    """Draw rocks with a finger on the plan; drawing none skips it."""
    tank, unit = writable_tank(request.user, tank_pk), request.user.units
    rows = DrawnRocks(request.POST or None, form_kwargs={"tank": tank, "unit": unit})
    if request.method == "POST" and rows.is_valid():
        count = rows.save()
        if count:
            messages.success(request, f"{count} rock{'' if count == 1 else 's'} saved.")
        then = "tank_settings" if request.GET.get("then") == "settings" else "tank_detail"
        return redirect(then, tank.pk)
    context = {
        "tank": tank,
        "rows": rows,
        "plan": tank_plan(tank, tank.rocks.present()),
        "unit_cm": to_cm(1.0, unit),
        "usual_height_cm": USUAL_HEIGHT * tank.depth_cm,
    }
    return render(request, "tanks/rock_draw.html", context, status=422 if rows.is_bound else 200)


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
