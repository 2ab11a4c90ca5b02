"""The page of one light change: the map before and after it, and what each coral got of it."""

import numpy as np
from django.contrib.auth.decorators import login_required
from django.db.models import prefetch_related_objects
from django.shortcuts import render
from django.utils import timezone

from apps.common.reading_once import reading_once
from apps.common.units import format_length
from apps.corals.coral.change_effect import effect_on_corals
from apps.drawing.level import draw_level, level_points
from apps.lighting.change.log import light_log
from apps.lighting.change.views import readable_light_change
from apps.lightmap.check.check_readings import check_proposal
from apps.lightmap.difference.light_effect import light_effect
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.query import MapQuery
from apps.lightmap.review.reviewing import change_facts
from apps.tanks.access import may_write, readable_tank
from apps.tanks.kept_pages.pages import kept_page


@login_required
@kept_page(readable_light_change)
@reading_once()
def light_change_effect(request, pk):
    change = readable_light_change(request.user, pk)
    tank = readable_tank(request.user, change.tank_id)
    unit = request.user.units
    light = tank_light(tank)
    begins = begins_log(tank, change)
    effect = None if begins else light_effect(light, pk)
    day = change.happened_at.astimezone(tank.zone).date()
    context = {
        "tank": tank,
        "change": change,
        "entry": entry_of(tank, light.history, pk, unit),
        "effect": effect,
        "begins": begins,
        "unit": unit,
        "may_write": may_write(request.user, tank),
        "proposal": proposal_after(tank, pk),
    }
    if effect is not None:
        corals = tank.corals.present().prefetch_related("spots")
        context["not_measured"] = not effect.serving.measured
        context["on_corals"] = effect_on_corals(corals, effect, day)
        if not effect.is_dark:
            context |= maps_of(request, tank, effect)
    with timezone.override(tank.zone):
        return render(request, "corals/coral/light_change_effect.html", context)


def begins_log(tank, change):
    """Return whether a change is the first to say what hangs: nothing is known of what hung before.

    Carried on from it, what hung before would be the same lamps, and the change none at all.
    """
    before = tank.light_changes.present().filter(tells_rig=True, happened_at__lt=change.happened_at)
    return change.tells_rig and not before.exists()


def proposal_after(tank, pk):
    """Return the CheckProposal of now where the change is one of those since the light was read."""
    proposal = check_proposal(tank, timezone.now())
    is_since = proposal is not None and any(change.pk == pk for change in proposal.changes)
    return proposal if is_since else None


def entry_of(tank, history, pk, unit):
    """Return the change as the light log shows it.

    It is compared with the entry before it and the last that says what hangs: rigs of no others
    are read.
    """
    changes = list(tank.light_changes.present().in_order())
    place = next(i for i, change in enumerate(changes) if change.pk == pk)
    before = changes[:place]
    last_described = next((change for change in reversed(before) if change.tells_rig), None)
    needed = [changes[place], *before[-1:]]
    if last_described is not None and last_described not in needed:
        needed.append(last_described)
    prefetch_related_objects(needed, "hung")
    rigs = {change.pk: change.hung.all() for change in needed}
    log = light_log(needed, history, rigs=rigs, surveyed_at=None, now=timezone.now(), unit=unit)
    return log.entries[0]


def usual_depth_cm(serving, tank):
    """Return the depth most readings of a map lie at, half the water's where nobody read it."""
    if not serving.measured:
        return round(tank.depth_cm / 2, 1)
    return float(np.median([reading.depth_cm for reading in serving.survey.readings.all()]))


def maps_of(request, tank, effect):
    """Return what the drawings of one level need: before, after and ratio."""
    unit = request.user.units
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    usual = usual_depth_cm(effect.serving, tank)
    depth_cm = usual if query.depth_cm is None else query.depth_cm
    then, now = (
        draw_level(field, tank, depth_cm=depth_cm, unit=unit) for field in effect.shown_fields()
    )
    result = effect.ratio_at(level_points(tank, depth_cm)[2])
    return {
        "then": then,
        "now": now,
        "ratio": change_facts(tank, result, depth_cm=depth_cm, unit=unit),
        "depth_cm": depth_cm,
        "depth_text": format_length(depth_cm, unit),
        "problems": query.problems,
        "surveyed_on": effect.serving.taken_at.astimezone(tank.zone).date(),
        "worked_back": effect.serving.taken_at > effect.happened_at,
    }
