"""A saved what-if: what to set, and the light then beside now, to read, print and hand on."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from apps.lighting.change.summary import rig_differences
from apps.planning.access import may_change_plan, readable_plan
from apps.planning.models import WHAT_IF, Plan
from apps.planning.what_if.keeping import TriedRig
from apps.planning.what_if.live_light import live_light
from apps.planning.what_if.trying import Context, fields_of, try_rig
from apps.tanks.kept_pages.pages import kept_page


@login_required
@kept_page(readable_plan)
def what_if_detail(request: HttpRequest, pk: int) -> HttpResponse:
    plan = readable_plan(request.user, pk, kind=WHAT_IF)
    context = what_if_context(plan, unit=request.user.units)
    context |= {
        "may_change": may_change_plan(request.user, plan),
        "owns": request.user.pk == plan.tank.owner_id,
    }
    return render(request, "planning/what_if/what_if_detail.html", context)


def what_if_context(plan: Plan, *, unit: str, with_corals: bool = True) -> Context:
    """Return what a page of a saved what-if shows, computed from the tank's map of now.

    Where that can't be done any more, `problems` says why, and the plan's own answer is left.
    """
    live = live_light(plan.tank, timezone.now())
    context = {"plan": plan, "tank": plan.tank, "unit": unit, "live": live}
    if live.problem:
        return context | {"problems": [live.problem]}
    # Rows name fixtures of the library of whoever made the plan.
    shown = try_rig(
        live, plan.owner, fields_of(plan, plan.owner.units), drawn_in=unit, with_corals=with_corals
    )
    tried = shown.get("tried")
    if not isinstance(tried, TriedRig):
        return context | {"problems": shown["problems"]}
    return context | shown | {
        "differences": rig_differences(live.rows, tried.rows, unit=unit),
        "survey_at": live.survey_map.taken_at,
        "not_measured": live.not_measured,
    }  # fmt: skip
