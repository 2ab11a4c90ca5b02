"""The tanks a keeper may see, and one tank."""

from itertools import chain, count

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from apps.accounts.time_zones import time_zone_names
from apps.common.idempotency import once
from apps.common.reading_once import reading_once
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.beginning import beginning_of
from apps.tanks.forms import RezoningForm, TankForm
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Invitation, Tank
from apps.tanks.overview import PICTURES, overview_of
from apps.tanks.plan import overhead_of, tank_plan
from apps.tanks.reminding import reminders_due
from apps.tanks.rezoning import has_moments, rezone

USUAL_NAME = "My tank"
# Reminders shown at once on a tank's page; the others fold.
REMINDERS_SHOWN = 2


@login_required
@require_GET
def tank_list(request):
    visible = Tank.objects.visible_to(request.user).select_related("owner")
    tanks = list(visible.with_role_of(request.user))
    context = {
        "tanks": tanks,
        "running": [tank for tank in tanks if tank.ended_on is None],
        "past": [tank for tank in tanks if tank.ended_on is not None],
        "invitations": Invitation.objects.for_keeper(request.user),
    }
    return render(request, "tanks/tank_list.html", context)


@login_required
@kept_page(readable_tank)
@require_GET
@reading_once()
def tank_detail(request, tank_pk):
    """Show what calls for the keeper today, and how the tank stands."""
    tank, now = readable_tank(request.user, tank_pk), timezone.now()
    writes, runs = may_write(request.user, tank), tank.ended_on is None
    is_owner = tank.owner_id == request.user.pk
    overview = overview_of(tank, now, is_owner=is_owner) if runs else ()
    reminders = reminders_due(tank, now)
    context = {
        "tank": tank,
        "beginning": beginning_of(tank, now) if writes and runs else None,
        "due": [line for line in overview if line.is_due],
        "standing": [line for line in overview if not line.is_due],
        "pictures": PICTURES.collect(tank, now, request.user.units),
        "reminders": reminders[:REMINDERS_SHOWN],
        "more_reminders": reminders[REMINDERS_SHOWN:],
        "today": tank.today(),
        "is_owner": is_owner,
        "may_write": writes,
    }
    return render(request, "tanks/tank_detail.html", context)


@login_required
@require_GET
@reading_once()
def tank_settings(request, tank_pk):
    """Show what seldom changes: the box, its rocks, its people, and the way out."""
    tank, now = readable_tank(request.user, tank_pk), timezone.now()
    is_owner = tank.owner_id == request.user.pk
    rocks = tank.rocks.present()
    context = {
        "tank": tank,
        "rocks": rocks,
        "plan": tank_plan(tank, rocks, overhead_of(tank, now)),
        "memberships": tank.memberships.select_related("user"),
        "invitations": tank.invitations.open_now() if is_owner else None,
        "is_owner": is_owner,
        "may_write": may_write(request.user, tank),
    }
    return render(request, "tanks/tank_settings.html", context)


@login_required
@require_GET
def tank_rooms(request, tank_pk):
    """List every room of a tank and what lies within it."""
    tank = readable_tank(request.user, tank_pk)
    context = {"tank": tank, "may_write": may_write(request.user, tank)}
    return render(request, "tanks/tank_rooms.html", context)


@login_required
@require_http_methods(["GET", "POST"])
@once()
def tank_new(request):
    name = fresh_name(request.user)
    tank = Tank(owner=request.user, time_zone=request.user.time_zone, name=name)
    form = TankForm(request.POST or None, instance=tank, unit=request.user.units)
    if request.method == "POST" and form.is_valid():
        tank = form.save()
        return redirect("rock_draw", tank.pk)
    return render_tank_form(request, "tanks/tank_new.html", form)


def fresh_name(user):
    """Return what a keeper's next tank is called until they say so."""
    taken = set(Tank.objects.owned_by(user).values_list("name", flat=True))
    numbers = (f"{USUAL_NAME} {n}" for n in count(2))
    return next(name for name in chain([USUAL_NAME], numbers) if name not in taken)


@login_required
@require_http_methods(["GET", "POST"])
def tank_edit(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    form = TankForm(request.POST or None, instance=tank, unit=request.user.units)
    # The form writes what was typed into `tank`; the page around it shows what is stored.
    stored = readable_tank(request.user, tank_pk)
    rezoning = None
    if request.method == "POST" and form.is_valid():
        rezoning = rezoning_form(request, stored, form.cleaned_data["time_zone"])
        if rezoning is None or rezoning.is_valid():
            save_tank(form, stored, rezoning)
            messages.success(request, "Saved.")
            return redirect("tank_settings", tank_pk)
    context = {"tank": stored, "rezoning": rezoning}
    return render_tank_form(request, "tanks/tank_edit.html", form, **context)


def rezoning_form(request, stored, name):
    """Return the form that asks what a new zone means; None where nothing hangs on it."""
    if name == stored.time_zone or not has_moments(stored):
        return None
    return RezoningForm(request.POST, tank=stored, name=name)


@transaction.atomic
def save_tank(form, stored, rezoning):
    """Save what was typed of a tank, and what its new zone means for its entries."""
    if rezoning:
        data = rezoning.cleaned_data
        rezone(
            tank=stored,
            name=rezoning.name,
            means=data["zone_means"],
            moved_at=data["moved_at"],
        )
        form.instance.earlier_zones = Tank.objects.get(pk=stored.pk).earlier_zones
    form.save()


def render_tank_form(request, template, form, **context):
    context |= {"form": form, "time_zones": time_zone_names()}
    wrong = form.errors or context.get("rezoning")
    return render(request, template, context, status=422 if wrong else 200)
