"""Corals of a tank: the list, one coral's page, and what a keeper says of it."""

from dataclasses import replace

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from apps.common.htmx import render_part
from apps.common.idempotency import once
from apps.common.numbers import whole_number
from apps.corals.access import readable_coral, writable_coral
from apps.corals.condition import looks_unwell, with_changes
from apps.corals.coral.light_plans import LIGHT_PLANS
from apps.corals.coral.placing import add_coral
from apps.corals.coral.timeline import coral_timeline
from apps.corals.forms import CoralForm, FirstSpotForm, given_place
from apps.corals.map_pins import numbers_on_map
from apps.corals.models import Coral, usual_band
from apps.corals.notes.noting import open_others
from apps.corals.photos.colour_story import colour_between, colour_story
from apps.corals.photos.comparing import comparison, photos_of
from apps.corals.photos.sizing import growth_story
from apps.corals.plan import placed_corals, spot_plan
from apps.corals.status import (
    by_need,
    called,
    coral_statuses,
    shared_survey_words,
    spot_lights,
    status_of,
)
from apps.lighting.history import light_history
from apps.lightmap.lightmap import tank_light
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page

# From so many corals on, a list is searched rather than read.
MANY = 8
# So many notes lie on a coral's page, the newest; weekly notes fill years.
NOTES_AT_FIRST = 8


@login_required
@kept_page(readable_tank)
def coral_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    query = request.GET.get("q", "")
    everyone = coral_statuses(tank, tank_light(tank), timezone.now())
    result = called(everyone, query)
    numbers = numbers_on_map(tank)
    living = [
        replace(s, map_number=numbers.get(reverse("coral_detail", args=[s.coral.pk])))
        for s in result
        if s.coral.gone_on is None
    ]
    context = {
        "tank": tank,
        "query": query,
        "has_many": len(everyone) > MANY,
        "groups": by_need(living),
        "rests_on": shared_survey_words(living, tank.zone),
        "gone": [s for s in result if s.coral.gone_on is not None],
        "may_write": may_write(request.user, tank),
    }
    return render(request, "corals/coral/coral_list.html", context)


@login_required
@kept_page(readable_coral)
def coral_detail(request, pk):
    coral = readable_coral(request.user, pk)
    tank, now = coral.tank, timezone.now()
    notes = with_changes(list(notes_written(coral)))
    light = tank_light(tank)
    status = status_now(coral, light, now, latest_note=next(iter(notes), None))
    colours = colour_story(coral)
    timeline = coral_timeline(coral, light, notes, now=now, query=request.GET, colours=colours)
    context = {
        "tank": tank,
        "coral": coral,
        "status": status,
        "timeline": timeline,
        # What asks for a choice is shown however old it is.
        "notes": notes[:NOTES_AT_FIRST] + [n for n in notes[NOTES_AT_FIRST:] if n.open_others],
        "notes_count": len(notes),
        "was_unwell": any(looks_unwell(note) for note in notes),
        "has_choices": any(note.open_others for note in notes),
        "light_plans": plans_of(coral, now),
        "spots": list(reversed(coral.spots.all())),
        "colony": coral.parent if coral.parent and coral.parent.removed_at is None else None,
        "frags": list(coral.frags.filter(removed_at__isnull=True).order_by("added_on", "pk")),
        "may_write": may_write(request.user, tank),
        "colour": colours,
        "growth": growth_story(coral),
        "photos": photos_of(coral),
    }
    with timezone.override(tank.zone):
        # htmx asks for another stretch of time, and for nothing else of this page.
        return render_part(
            request, "corals/coral/coral_detail.html", "corals/coral/_timeline.html", context
        )


def status_now(coral, light, now, *, latest_note):
    """Return the CoralStatus of a coral at its spot of today."""
    today = now.astimezone(coral.tank.zone).date()
    spot = coral.spot_on(today)
    (estimate,) = spot_lights([spot], light, now)
    return status_of(coral, spot, estimate, light, now=now, latest_note=latest_note)


def plans_of(coral, now):
    """Return the LightPlans under way for a coral itself."""
    return [plan for plan in LIGHT_PLANS.collect(coral.tank, now) if plan.coral_pk == coral.pk]


@login_required
def coral_compare(request, pk):
    """Show two photos of a coral; the first and the newest unless others are chosen."""
    coral = readable_coral(request.user, pk)
    photos = photos_of(coral)
    by_key = {str(photo.key): photo for photo in photos}
    result = None
    if len(photos) > 1:
        before = by_key.get(request.GET.get("before"), photos[0])
        after = by_key.get(request.GET.get("after"), photos[-1])
        result = comparison(before, after)
    context = {"tank": coral.tank, "coral": coral, "photos": photos, "comparison": result}
    if result:
        context["between"] = colour_between(result.before, result.after)
    return render(request, "corals/coral/coral_compare.html", context)


@login_required
@once()
def coral_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    coral = Coral(tank=tank, added_on=tank.today())
    if (cut_from := whole_number(request.GET.get("cut_from", ""))) is not None:
        be_frag_of(coral, get_object_or_404(tank.corals.present(), pk=cut_from))
    form = CoralForm(request.POST or None, instance=coral)
    place = FirstSpotForm(
        request.POST or None,
        tank=tank,
        unit=request.user.units,
        initial=given_place(request.GET, tank),
    )
    # Both are checked, so that both say what is wrong at once.
    if request.method == "POST" and all([form.is_valid(), place.is_valid()]):
        add_coral(coral=form.save(commit=False), spot=place.spot())
        messages.success(request, f"{coral.name} is in the list.")
        return redirect("coral_detail", coral.pk)
    context = coral_form_context(tank, form) | {
        "place": place,
        "plan": spot_plan(tank, placed_corals(tank), unit=request.user.units),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "corals/coral/coral_form.html", context, status=status)


def be_frag_of(coral, colony):
    """Fill a new coral with what a frag has from its colony."""
    coral.parent, coral.name = colony, f"{colony.name[:74]} frag"
    coral.group, coral.genus = colony.group, colony.genus
    coral.band_low_umol, coral.band_high_umol = colony.band_low_umol, colony.band_high_umol


@login_required
def coral_edit(request, pk):
    coral = writable_coral(request.user, pk)
    form = CoralForm(request.POST or None, instance=coral)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Saved {coral.name}.")
        return redirect("coral_detail", coral.pk)
    status = 422 if request.method == "POST" else 200
    context = coral_form_context(coral.tank, form)
    return render(request, "corals/coral/coral_form.html", context, status=status)


def coral_form_context(tank, form):
    full_hours, groups = light_history(tank).full_hours_at(timezone.now()), Coral.Group.choices
    return {
        "tank": tank,
        "form": form,
        "full_hours": full_hours,
        "usual_bands": [(label, usual_band(group, full_hours)) for group, label in groups],
    }


def notes_written(coral):
    """Return the present notes of a coral with what their rows on a page need."""
    notes = coral.notes.present().select_related("created_by")
    return notes.prefetch_related("photos", open_others())
