"""What if: another rig over a living tank, tried without touching anything; saved as a plan."""

from dataclasses import dataclass, replace

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.accounts.models import User
from apps.common.htmx import render_part
from apps.common.idempotency import Write, once
from apps.common.numbers import whole_number
from apps.common.units import format_length
from apps.drawing.legend import legend_of
from apps.lighting.change.address import light_change_address, rows_query
from apps.lighting.change.alike import with_alike
from apps.lighting.change.rig_forms import PREFIX, RigRows, rig_rows
from apps.lighting.change.title import rig_reason, rig_title
from apps.lighting.models import HungFixture, LightChange
from apps.lightmap.page.looks import LOOKS, PAR, scale_for
from apps.lightmap.page.query import MapQuery
from apps.lightmap.page.usual_view import usual_band
from apps.lightmap.pins import pins_for
from apps.photics.ground.usual_bands import USUAL_DAY_HOURS
from apps.planning.access import readable_plan
from apps.planning.layout.zones.zone_forms import ZoneRows
from apps.planning.models import WHAT_IF, Plan
from apps.planning.plan_forms import PlanNameForm
from apps.planning.what_if import zones
from apps.planning.what_if.answer import answer_of
from apps.planning.what_if.drawing import draw_pair, handles_of, stage_of
from apps.planning.what_if.keeping import (
    USUAL_DEPTH_SHARE,
    TriedRig,
    keep_tried,
    tried_rig,
    usual_name,
)
from apps.planning.what_if.live_light import LiveLight, live_light, numbered
from apps.planning.what_if.zones import (
    rows_for,
    zone_problems,
    zone_rows,
    zones_from,
    zones_of,
    zones_query,
)
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank

PAGE, SWAP = "planning/what_if/what_if.html", "planning/what_if/_what_if_swap.html"
NOW, THEN = "now", "then"
# What a template is given, by name.
Context = dict[str, object]


@login_required
@kept_page(readable_tank)
def what_if_show(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    return show(request, tank, fields_shown(request, tank))


def fields_shown(request: HttpRequest, tank: Tank) -> QueryDict:
    """Return the fields to show: those of the address, or of a saved plan, or none."""
    if (pk := whole_number(request.GET.get("plan", ""))) is not None:
        plan = readable_plan(request.user, pk, kind=WHAT_IF)
        if plan.tank_id == tank.pk:
            return fields_of(plan, request.user.units)
    return request.GET


def fields_of(plan: Plan, unit: str) -> QueryDict:
    """Return the fields of the page that a saved plan was made from, lengths in `unit`."""
    fields = QueryDict(mutable=True)
    fields.update(rows_query(plan.asked.get("rows", []), unit))
    # Plans of before zones were typed take the usual ones.
    if "zones" in plan.asked:
        fields.update(zones_query(zones_from(plan.asked), unit))
    fields["depth"] = f"{plan.asked.get('depth_cm', 0):g}cm"
    return fields


def show(
    request: HttpRequest, tank: Tank, fields: QueryDict, *, name_form: PlanNameForm | None = None
) -> HttpResponse:
    """Render the page or its parts for the fields of a rig, zones and depth."""
    live = live_light(tank, timezone.now())
    context = {"tank": tank, "may_write": may_write(request.user, tank)}
    if live.problem or not live.rows:
        context["problem"] = live.problem
        return render(request, "planning/what_if/what_if_none.html", context)
    unit = request.user.units
    fields = with_alike(fields, tank, live.rows, unit=unit)
    tried = try_rig(live, request.user, fields)
    context |= tried | {
        "not_measured": live.not_measured,
        "unit": unit,
        "name_form": name_form or PlanNameForm(),
        "rig": rig_text(fields),
        # A phone shows one map at a time.
        "shown": NOW if fields.get("show") == NOW else THEN,
        "views": ((NOW, "Now"), (THEN, "Then")),
    }
    if not request.htmx:
        # A drag holds on to them, so its answers leave them out.
        context["handles"] = handles_of(tried["rows"], tank)
        context["stage"] = stage_of(tank, unit)
    failed = bool(tried["problems"]) or name_form is not None
    return render_part(request, PAGE, SWAP, context, status=422 if failed else 200)


@dataclass(frozen=True)
class TriedFields:
    """What was typed of a rig and zones, read; `problems` says what can't be."""

    rows: RigRows
    zones: ZoneRows
    depth_cm: float
    problems: list[str]

    def tried_rows(self, live: LiveLight) -> list[HungFixture]:
        """Return the HungFixtures of valid rows, those that hang where none were typed."""
        if not self.rows.is_bound:
            return list(live.rows)
        return [row.instance for row in self.rows.kept()]


def read_fields(live: LiveLight, user: User, fields: QueryDict) -> TriedFields:
    """Return the TriedFields of a page's fields.

    Fixtures come from the user's library and lengths are read in their unit.
    """
    tank, unit = live.tank, user.units
    change = LightChange(tank=tank, happened_at=live.now)
    rows = rig_rows(change, user=user, data=fields if f"{PREFIX}-TOTAL_FORMS" in fields else None)
    for number, form in enumerate(rows.forms):
        form.letter = letter_of(number)
    query = MapQuery.read(fields, tank=tank, unit=unit)
    depth_cm = USUAL_DEPTH_SHARE * tank.depth_cm if query.depth_cm is None else query.depth_cm
    zones = zone_rows(fields, tank, unit, full_hours=hours_of(live))
    problems = list(query.problems)
    if rows.is_bound and not rows.is_valid():
        problems += row_problems(rows)
    if zones.is_bound and not zones.is_valid():
        problems += zone_problems(zones)
    return TriedFields(rows, zones, depth_cm, problems)


def try_rig(
    live: LiveLight,
    user: User,
    fields: QueryDict,
    *,
    drawn_in: str | None = None,
    with_corals: bool = True,
) -> Context:
    """Return rows, depth, problems and, if there are none, what the rig would give.

    Drawn in the user's unit, or in `drawn_in`.
    """
    read, tank, unit = read_fields(live, user, fields), live.tank, user.units
    tried: Context = {"rows": read.rows, "zones": read.zones, "depth_cm": read.depth_cm}
    if read.problems:
        return tried | {"problems": read.problems}
    hours = hours_of(live)
    pairs, rows = zones_of(read.zones, tank, full_hours=hours), read.tried_rows(live)
    # The page has a blank row again for one zone more.
    tried |= {"zones": rows_for(tank, unit, zones=pairs, full_hours=hours)}
    try:
        rig = tried_rig(live, rows, depth_cm=read.depth_cm, zones=pairs)
    except ValueError as problem:
        return tried | {"problems": [str(problem)]}
    if not with_corals:
        changed = rig.changed
        changed = replace(changed, corals=(), within_rock=(), spots_cm=changed.spots_cm[:0])
        rig = replace(rig, changed=changed)
    return tried | {"problems": []} | shown_change(live, rig, drawn_in or unit)


def hours_of(live: LiveLight) -> float:
    """Return the hours of full light a day that bands are turned into PAR by [h]."""
    return live.full_hours or USUAL_DAY_HOURS


def shown_change(live: LiveLight, tried: TriedRig, unit: str) -> Context:
    """Return what a page shows of a TriedRig, lengths in `unit`."""
    tank, changed, rows = live.tank, tried.changed, tried.rows
    kept = {row.number for row in rows}
    look = LOOKS[PAR]
    scale = scale_for(look, usual_band(pins_for(tank)))
    does = rig_title(live.rows, numbered(rows), unit=unit)
    now, then = draw_pair(changed, tank, rows_now=live.rows, rows_then=rows, scale=scale, unit=unit)
    return {
        "tried": tried,
        "changed": changed,
        "answer": answer_of(changed, f"{format_length(tried.depth_cm, unit)} {unit}"),
        "look": look,
        "legend": legend_of(scale),
        "full_hours": hours_of(live),
        "drawing_now": now,
        "drawing_then": then,
        "guessed_outputs": live.guessed_outputs(rows),
        "change_url": light_change_address(
            # Left blank, a title is made of the final change as it is saved.
            tank.pk, rows, summary="" if does else "From a what-if",
            reason=rig_reason(live.rows, numbered(rows)), unit=unit,
            down=[row for row in live.rows if row.number not in kept],
        ),
    }  # fmt: skip


def letter_of(number: int) -> str:
    """Return A, B, ... Z, A2, B2, ...: corals on the same drawing have numbers."""
    turn, place = divmod(number, 26)
    return f"{chr(ord('A') + place)}{turn + 1 if turn else ''}"


def row_problems(rows: RigRows) -> list[str]:
    """Return what is wrong with the rows as sentences that name row and field."""
    problems = list(rows.non_form_errors())
    for form in rows.forms:
        for name, errors in form.errors.items():
            label = form.fields[name].label if name in form.fields else "all of it"
            problems.append(f"Lamp {form.letter}, {label}: {' '.join(errors)}")
    return problems


def rig_text(fields: QueryDict) -> str:
    """Return the fields of rig, zones and depth as one text for a hidden field."""
    kept = QueryDict(mutable=True)
    for name, value in fields.items():
        if name == "depth" or name.startswith((f"{PREFIX}-", f"{zones.PREFIX}-")):
            kept[name] = value
    text: str = kept.urlencode()
    return text


@login_required
@require_POST
@once(late=True)
def what_if_save(request: HttpRequest, tank_pk: int) -> HttpResponse | Write:
    """Return what saves the rig last shown as a plan of the tank."""
    tank = writable_tank(request.user, tank_pk)
    fields = QueryDict(request.POST.get("rig", ""))
    plan = Plan(owner=request.user, tank=tank, kind=WHAT_IF)
    live = live_light(tank, timezone.now())
    can_try = not live.problem and bool(live.rows)
    tried = try_rig(live, request.user, fields).get("tried") if can_try else None
    typed = request.POST.copy()
    if isinstance(tried, TriedRig) and not typed.get("name", "").strip():
        typed["name"] = usual_name(live, tried, request.user.units)
    form = PlanNameForm(typed, instance=plan)
    if not form.is_valid() or not isinstance(tried, TriedRig):
        return show(request, tank, fields, name_form=form)

    def keep() -> HttpResponse:
        keep_tried(plan=plan, tried=tried)
        messages.success(request, f"“{plan}” is among the plans of this tank.")
        return redirect(f"{reverse('what_if', args=[tank.pk])}?plan={plan.pk}")

    return keep
