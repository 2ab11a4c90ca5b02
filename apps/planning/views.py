"""The plans of a tank, and those a keeper made without one."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from apps.common.idempotency import once
from apps.planning.access import readable_plan
from apps.planning.duplicating import duplicate_plan
from apps.planning.models import Acclimation, Plan
from apps.tanks.access import may_write, readable_tank, writable_tank


@login_required
def tank_plan_list(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    context = {
        "tank": tank,
        "plans": tank.plans.present().select_related("owner"),
        "acclimations": tank.acclimations.visible_to(request.user).select_related("coral"),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "planning/tank_plan_list.html", context)


@login_required
def plan_list(request: HttpRequest) -> HttpResponse:
    words = request.GET.get("q", "").strip()[:80]
    plans = Plan.objects.visible_to(request.user).matching(words).select_related("tank", "owner")
    acclimations = Acclimation.objects.visible_to(request.user).select_related("tank", "coral")
    if words:
        acclimations = acclimations.none()
    # By whom they are for; the keeper's own, which are for nobody else, come first.
    grouped = sorted(plans, key=lambda plan: plan.for_whom.casefold())
    context = {"plans": grouped, "acclimations": acclimations, "words": words}
    return render(request, "planning/plan_list.html", context)


@login_required
@require_POST
@once()
def plan_duplicate(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a second copy of a plan, to ask something else of it."""
    plan = readable_plan(request.user, pk)
    if plan.tank is not None:
        writable_tank(request.user, plan.tank_id)
    copy = duplicate_plan(plan=plan, by=request.user)
    messages.success(request, f"“{copy}” is a copy; change it as you like.")
    return redirect(copy)
