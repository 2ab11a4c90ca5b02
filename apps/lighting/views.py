"""The light log: what was done to the light, and when. Times are those of the tank."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.removal import offer_undo
from apps.lighting.day_drawing import day_drawing
from apps.lighting.factor import factor_words
from apps.lighting.forms import LightChangeForm
from apps.lighting.history import light_history
from apps.lighting.log import light_log
from apps.lighting.models import LightChange
from apps.tanks.access import may_write, readable_tank, require_write, writable_tank
from apps.tanks.models import Tank


@login_required
def light_change_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    now, history = timezone.now(), light_history(tank)
    # Read through the tank: surveys stand above this app, which may not import them.
    survey = tank.surveys.present().newest_first().first()
    log = light_log(
        tank.light_changes.present(),
        history,
        surveyed_at=survey and survey.taken_at,
        now=now,
    )
    context = {
        "tank": tank,
        "log": log,
        "day": day_drawing(history.schedule_at(now)),
        "may_write": may_write(request.user, tank),
    }
    with timezone.override(tank.zone):
        return render(request, "lighting/light_change_list.html", context)


@login_required
def light_change_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    schedule = light_history(tank).schedule_at(timezone.now())
    change = LightChange(tank=tank, created_by=request.user, happened_at=timezone.now())
    if schedule:
        change.day_hours, change.ramp_hours = schedule.day_hours, schedule.ramp_hours
    return edit_light_change(request, tank, change)


@login_required
def light_change_edit(request, pk):
    change = readable_light_change(request.user, pk)
    require_write(request.user, change.tank)
    return edit_light_change(request, change.tank, change)


def edit_light_change(request, tank, change):
    """Show or save the form of a change that already carries its tank."""
    with timezone.override(tank.zone):
        form = LightChangeForm(request.POST or None, instance=change)
        if request.method == "POST" and form.is_valid():
            saved = form.save()
            messages.success(
                request,
                f"Saved “{saved.summary}”. “{form['factor'].data.strip()}” is taken as "
                f"{saved.factor:g} of the light before: {factor_words(saved.factor)}.",
            )
            return redirect("light_change_list", tank.pk)
        status = 422 if request.method == "POST" else 200
        context = {"tank": tank, "form": form}
        return render(request, "lighting/light_change_form.html", context, status=status)


@login_required
@require_POST
def light_change_remove(request, pk):
    change = readable_light_change(request.user, pk)
    require_write(request.user, change.tank)
    change.remove()
    offer_undo(
        request, f"Took away “{change.summary}”.", reverse("light_change_restore", args=[pk])
    )
    return redirect("light_change_list", change.tank_id)


@login_required
@require_POST
def light_change_restore(request, pk):
    seen = LightChange.objects.filter(tank__in=Tank.objects.visible_to(request.user))
    change = get_object_or_404(seen.select_related("tank"), pk=pk)
    require_write(request.user, change.tank)
    change.restore()
    messages.success(request, f"“{change.summary}” is back.")
    return redirect("light_change_list", change.tank_id)


def readable_light_change(user, pk):
    """Return a present light change, or raise Http404 for a stranger."""
    return get_object_or_404(LightChange.objects.visible_to(user).select_related("tank"), pk=pk)
