"""Where a coral sits, from which day on: a move is a new spot, the old ones stay."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.utils import timezone

from apps.common.idempotency import once
from apps.common.validation import first_fault
from apps.corals.access import writable_coral, writable_spot
from apps.corals.forms import PlaceFields, SpotForm, given_place
from apps.corals.models import Spot
from apps.corals.plan import placed_corals, spot_plan
from apps.corals.status import rests_on
from apps.lightmap.lightmap import tank_light
from apps.tanks.access import readable_tank


@login_required
@once()
def spot_new(request, coral_pk):
    coral = writable_coral(request.user, coral_pk)
    today = coral.tank.today()
    now_at = coral.spot_on(today)
    spot = Spot(coral=coral, since=today)
    if now_at is not None:
        # A move is mostly a short one: start from where it sits.
        spot.x_cm, spot.y_cm, spot.depth_cm = now_at.x_cm, now_at.y_cm, now_at.depth_cm
    # An address may name the place and the day, in cm whatever the keeper's unit.
    if request.method == "GET" and (given := given_place(request.GET, coral.tank)):
        for name, value in given.items():
            setattr(spot, name, value)
        spot.since = parse_day(request.GET.get("since", "")) or today
    return edit_spot(request, coral, spot)


def parse_day(text):
    """Return the date a text names, or None."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


@login_required
def spot_edit(request, pk):
    spot = writable_spot(request.user, pk)
    return edit_spot(request, spot.coral, spot)


def edit_spot(request, coral, spot):
    """Show or save the form of a spot that already carries its coral."""
    tank, unit = coral.tank, request.user.units
    form = SpotForm(request.POST or None, instance=spot, tank=tank, unit=unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{coral.name} has its spot from {spot.since:%-d %b %Y}.")
        return redirect("coral_detail", coral.pk)
    context = {
        "tank": tank,
        "coral": coral,
        "form": form,
        "place": form,
        "plan": spot_plan(tank, placed_corals(tank, without=coral.pk), unit=unit),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "corals/coral/spot_form.html", context, status=status)


@login_required
def spot_light(request, tank_pk):
    """Say the light of the place in the address, while a keeper looks for a spot."""
    tank = readable_tank(request.user, tank_pk)
    prefix = "spot" if "spot-x_cm" in request.GET else None
    place = PlaceFields(request.GET, prefix=prefix, tank=tank, unit=request.user.units)
    context = {"tank": tank, "has_place": place.is_valid(), "fault": first_fault(place)}
    if place.is_valid():
        point = [place.cleaned_data[name] for name in ("x_cm", "y_cm", "depth_cm")]
        known = tank_light(tank)
        (light,) = known.at([point], timezone.now())
        context["light"] = light
        context["in_rock"] = known.in_rock([point])[0]
        context["rests_on"] = rests_on(light, tank.zone) if light else ""
    return render(request, "corals/coral/_spot_light.html", context)
