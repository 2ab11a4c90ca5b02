"""Entering a light change by what was done, with its effect shown before it is saved."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone

from apps.common.htmx import render_part
from apps.common.idempotency import once
from apps.common.reading_once import reading_once
from apps.common.validation import first_fault
from apps.lighting.change.done import (
    What,
    lamps_meant,
    rig_after,
    save_done,
    stated_change,
)
from apps.lighting.change.done_forms import DoneForm
from apps.lighting.change.effect import ChangeEffect, change_effect
from apps.lighting.change.title import saved_title
from apps.lighting.rig import rig_in_force
from apps.tanks.access import writable_tank

PAGE = "lighting/change/light_change_done.html"
EFFECT = "lighting/change/_change_effect.html"
# The button that only looks.
LOOK = "effect"
NUMBER_FIRST = "Enter the number to see what it does."
FOLLOWED = "Later changes follow it, so its effect today shows after saving."


@login_required
@once(but=LOOK)
@reading_once()
def light_change_done(request, tank_pk):
    tank, now = writable_tank(request.user, tank_pk), timezone.now()
    rows = rig_in_force(tank, now)
    if not lamps_meant(rows, None):
        # Nothing hangs there that something could be done to.
        return redirect("light_change_new", tank.pk)
    context = {"tank": tank, "choices": What, "what": what_of(request.GET.get("what"))}
    if context["what"] is None:
        return render(request, PAGE, context)
    data = request.POST if request.method == "POST" else None
    with timezone.override(tank.zone):
        form = DoneForm(
            data,
            what=context["what"],
            tank=tank,
            rows=rows,
            user=request.user,
            initial={"happened_at": now},
        )
        context["form"] = form
        if data is not None and LOOK in data:
            context["effect"] = effect_of(form, now, by=request.user)
            return render_part(request, PAGE, EFFECT, context)
        if form.is_bound and form.is_valid():
            change = saved(form, by=request.user)
            if change is not None:
                messages.success(
                    request, f"Saved “{saved_title(change, unit=request.user.units)}”."
                )
                return redirect(change.place_in_log())
        context["sent_back"] = form.is_bound
        return render(request, PAGE, context, status=422 if form.is_bound else 200)


def what_of(text):
    """Return the What an address names, None for none."""
    return What(text) if text in What.values else None


def saved(form, *, by):
    """Save what a valid form says; return the change, None where its fields are marked instead."""
    said = form.cleaned_data
    try:
        return save_done(
            form.done(),
            tank=form.tank,
            also_over=said.get("also_over", ()),
            by=by,
            happened_at=said["happened_at"],
            summary=said["summary"],
        )
    except ValidationError as problem:
        form.mark(problem)
        return None


def effect_of(form, now, *, by):
    """Return the ChangeEffect of what is typed so far; with a remark alone where none is known."""
    if not form.is_valid():
        return ChangeEffect(remark=first_fault(form) or NUMBER_FIRST)
    done, happened_at = form.done(), form.cleaned_data["happened_at"]
    if form.tank.light_changes.present().filter(happened_at__gt=happened_at).exists():
        return ChangeEffect(remark=FOLLOWED)
    change = stated_change(done, tank=form.tank, by=by, happened_at=happened_at)
    try:
        hung, _ = rig_after(done, change, lamps_meant(form.rows, done.number))
    except ValidationError as problem:
        return ChangeEffect(remark=" ".join(problem.messages))
    if done.is_new_of_a_kind:
        return None
    after = form.rows if hung is None else hung
    return change_effect(form.tank, after, done.factor, now)
