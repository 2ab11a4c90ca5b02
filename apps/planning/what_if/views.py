"""What if: another rig over a living tank, tried without touching anything; saved as a plan."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.htmx import render_part
from apps.common.idempotency import Write, once
from apps.common.numbers import whole_number
from apps.lighting.change.alike import with_alike
from apps.lighting.change.rig_forms import PREFIX
from apps.planning.access import readable_plan
from apps.planning.models import WHAT_IF, Plan
from apps.planning.plan_forms import PlanNameForm
from apps.planning.what_if import zones
from apps.planning.what_if.drawing import handles_of, stage_of
from apps.planning.what_if.keeping import (
    TriedRig,
    keep_tried,
    usual_name,
)
from apps.planning.what_if.live_light import live_light
from apps.planning.what_if.trying import fields_of, try_rig
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank

PAGE, SWAP = "planning/what_if/what_if.html", "planning/what_if/_what_if_swap.html"
NOW, THEN = "now", "then"
# So many times as long as wide [1], two maps of a tank stand one above the other on a desk: chosen,
# because beside each other they would be strips.
LONG = 1.75


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
        "is_long": tank.length_cm > LONG * tank.width_cm,
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
