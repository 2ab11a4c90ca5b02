"""What if: another rig over a living tank, tried without touching anything; saved as a plan."""

from dataclasses import replace

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.htmx import render_part
from apps.common.idempotency import once
from apps.lighting.change.address import light_change_address, rows_query, typed_of
from apps.lighting.change.rig_forms import PREFIX, rig_rows
from apps.lighting.models import LightChange
from apps.lightmap.page.query import MapQuery
from apps.photics.ground.lengths import UNIT_WORDS
from apps.planning.access import readable_plan
from apps.planning.models import Plan
from apps.planning.plan_forms import PlanNameForm
from apps.planning.stored_layout import zone_document
from apps.planning.what_if import zones
from apps.planning.what_if.drawing import draw_pair, handles_of, stage_of
from apps.planning.what_if.live_light import live_light
from apps.planning.what_if.what_if import what_if
from apps.planning.what_if.zones import (
    rows_for,
    zone_problems,
    zone_rows,
    zones_from,
    zones_of,
    zones_query,
)
from apps.tanks.access import may_write, readable_tank, writable_tank

PAGE, SWAP = "planning/what_if/what_if.html", "planning/what_if/_what_if_swap.html"
VERSION = 1
# Where the plane lies before a depth is chosen, as a share of the water: about a rock's top.
USUAL_DEPTH_SHARE = 0.4


@login_required
def what_if_show(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    return show(request, tank, asked_of(request, tank))


def asked_of(request, tank):
    """Return the fields asked for: those of the address, or of a saved plan, or none."""
    text = request.GET.get("plan", "")
    if text.isascii() and text.isdigit() and len(text) < 10:
        plan = readable_plan(request.user, int(text), kind=Plan.Kind.WHAT_IF)
        if plan.tank_id == tank.pk:
            return fields_of(plan, request.user.units)
    return request.GET


def fields_of(plan, unit):
    """Return the fields of the page that a saved plan was made from, lengths in `unit`."""
    asked = QueryDict(mutable=True)
    asked.update(rows_query(plan.asked.get("rows", []), unit))
    # Plans of before zones were typed take the usual ones.
    if "zones" in plan.asked:
        asked.update(zones_query(zones_from(plan.asked["zones"]), unit))
    asked["depth"] = f"{plan.asked.get('depth_cm', 0):g}cm"
    return asked


def show(request, tank, asked, *, name_form=None):
    """Render the page or its parts for the fields asked for."""
    live = live_light(tank, timezone.now())
    context = {"tank": tank, "may_write": may_write(request.user, tank)}
    if live.problem or not live.rows:
        context["problem"] = live.problem
        return render(request, "planning/what_if/what_if_none.html", context)
    unit = request.user.units
    tried = try_rig(live, request.user, asked)
    context |= tried | {
        "unit": unit,
        "name_form": name_form or PlanNameForm(),
        "rig": rig_text(asked),
    }
    if not request.htmx:
        # A drag holds on to them, so its answers leave them out.
        context["handles"] = handles_of(tried["rows"], tank)
        context["stage"] = stage_of(tank, UNIT_WORDS[unit])
    failed = bool(tried["problems"]) or name_form is not None
    return render_part(request, PAGE, SWAP, context, status=422 if failed else 200)


def try_rig(live, user, asked, *, drawn_in=None, with_corals=True):
    """Return rows, depth, problems and, if there are none, what the rig asked for would give.

    Fixtures come from the user's library and lengths are read in their unit; drawn in another
    unit if told.
    """
    tank, unit = live.tank, user.units
    change = LightChange(tank=tank, happened_at=live.now)
    rows = rig_rows(change, user=user, data=asked if f"{PREFIX}-TOTAL_FORMS" in asked else None)
    for number, form in enumerate(rows.forms):
        form.letter = letter_of(number)
    query = MapQuery.read(asked, tank=tank, unit=unit)
    depth_cm = USUAL_DEPTH_SHARE * tank.depth_cm if query.depth_cm is None else query.depth_cm
    zones = zone_rows(asked, tank, unit)
    tried = {"rows": rows, "zones": zones, "depth_cm": depth_cm, "problems": list(query.problems)}
    if rows.is_bound and not rows.is_valid():
        tried["problems"] += row_problems(rows)
    if zones.is_bound and not zones.is_valid():
        tried["problems"] += zone_problems(zones)
    if tried["problems"]:
        return tried
    told = zones_of(zones, tank)
    # The page has a blank row again for one zone more.
    tried |= {"zones": rows_for(tank, unit, zones=told), "told_zones": told}
    tried_rows = [row.instance for row in rows.kept()] if rows.is_bound else list(live.rows)
    try:
        result = what_if(live, tried_rows, depth_cm=depth_cm, zones=told)
    except ValueError as problem:
        tried["problems"].append(str(problem))
        return tried
    if not with_corals:
        result = replace(result, corals=(), within_rock=(), spots_cm=result.spots_cm[:0])
    kept = {row.number for row in tried_rows}
    now, then = draw_pair(
        result, tank, rows_now=live.rows, rows_then=tried_rows, unit=drawn_in or unit
    )
    return tried | {
        "found": result,
        "tried_rows": tried_rows,
        "drawing_now": now,
        "drawing_then": then,
        "guessed_outputs": live.guessed_outputs(tried_rows),
        "change_url": light_change_address(
            tank.pk, tried_rows, summary="As tried in a plan", reason=LightChange.Reason.OTHER,
            unit=drawn_in or unit, down=[row for row in live.rows if row.number not in kept],
        ),
    }  # fmt: skip


def letter_of(number):
    """Return A, B, ... Z, A2, B2, ...: corals on the same drawing have numbers."""
    turn, place = divmod(number, 26)
    return f"{chr(ord('A') + place)}{turn + 1 if turn else ''}"


def row_problems(rows):
    """Return what is wrong with the rows as sentences that name row and field."""
    result = list(rows.non_form_errors())
    for form in rows.forms:
        for name, errors in form.errors.items():
            label = form.fields[name].label if name in form.fields else "all of it"
            result.append(f"Fixture {form.letter}, {label}: {' '.join(errors)}")
    return result


def rig_text(asked):
    """Return the fields of rig, zones and depth as one text for a hidden field."""
    kept = QueryDict(mutable=True)
    for name, value in asked.items():
        if name == "depth" or name.startswith((f"{PREFIX}-", f"{zones.PREFIX}-")):
            kept[name] = value
    return kept.urlencode()


@login_required
@require_POST
@once()
def what_if_save(request, tank_pk):
    """Save the rig last shown as a plan of the tank."""
    tank = writable_tank(request.user, tank_pk)
    asked = QueryDict(request.POST.get("rig", ""))
    plan = Plan(owner=request.user, tank=tank, kind=Plan.Kind.WHAT_IF)
    form = PlanNameForm(request.POST, instance=plan)
    live = live_light(tank, timezone.now())
    if live.problem or not live.rows or not form.is_valid():
        return show(request, tank, asked, name_form=form)
    tried = try_rig(live, request.user, asked)
    if tried["problems"]:
        return show(request, tank, asked, name_form=form)
    result = tried["found"]
    plan.asked = {
        "version": VERSION,
        "depth_cm": tried["depth_cm"],
        "rows": [typed_of(row) for row in tried["tried_rows"]],
        "zones": [zone_document(zone) for zone in tried["told_zones"]],
    }
    plan.answer = {
        "version": VERSION,
        "corals": [
            {"name": c.coral.name, "now_umol": c.now.par_umol, "then_umol": c.then.par_umol}
            for c in result.corals
        ],
        "zones": [
            {"zone": z.zone, "band": f"{z.low_umol:g}–{z.high_umol:g}",
             "now_percent": z.now_percent, "then_percent": z.then_percent}
            for z in result.zones
        ],
    }  # fmt: skip
    plan.full_clean()
    plan.save()
    messages.success(request, f"“{plan}” is among the plans of this tank.")
    return redirect(f"{reverse('what_if', args=[tank.pk])}?plan={plan.pk}")
