"""A plan behind a link: made and revoked by its owner, open to whoever holds it."""

from dataclasses import replace

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from apps.photics.ground.lengths import CM
from apps.planning.access import owned_plan
from apps.planning.layout.comparison import comparison
from apps.planning.layout.page import layout_page
from apps.planning.layout.views import answer_context, start_of
from apps.planning.models import Plan
from apps.planning.what_if.plan_views import what_if_context
from apps.sharing.forms import PlanLinkForm, TakePlanForm
from apps.sharing.models import PlanLink
from apps.sharing.opening import opened_by_token, unlocking
from apps.sharing.taking import fit_light, take_plan
from apps.sharing.views import show_made

PAGE = "sharing/plan_link_list.html"


def page_context(plan, form):
    return {"plan": plan, "tank": plan.tank, "links": plan.links.all(), "form": form}


@login_required
def plan_link_list(request, plan_pk):
    plan = owned_plan(request.user, plan_pk)
    return render(request, PAGE, page_context(plan, PlanLinkForm()))


@login_required
@require_POST
def plan_link_new(request, plan_pk):
    plan = owned_plan(request.user, plan_pk)
    link = PlanLink(plan=plan, created_by=request.user)
    token = link.renew_token()
    form = PlanLinkForm(request.POST, instance=link)
    if not form.is_valid():
        return render(request, PAGE, page_context(plan, form), status=422)
    form.save()
    context = page_context(plan, form)
    return show_made(request, PAGE, context, link, reverse("shared_plan", args=[token]))


@login_required
@require_POST
def plan_link_revoke(request, link_pk):
    link = get_object_or_404(PlanLink, pk=link_pk)
    plan = owned_plan(request.user, link.plan_id)
    link.revoke()
    messages.success(request, f"“{link}” no longer works.")
    return redirect("plan_link_list", plan.pk)


shared_plan_unlock = unlocking(PlanLink, "shared_plan")


@login_required
@opened_by_token(PlanLink, by=require_POST)
def shared_plan_take(request, link):
    """Copy the plan into a tank of the reader's, and lead there."""
    form = TakePlanForm(request.POST, user=request.user)
    if not form.is_valid():
        raise Http404
    tank = form.cleaned_data["tank"]
    # Kept from here on, so that nobody's save waits while a light is fitted.
    fit_light(link.plan, tank)
    try:
        plan = take_plan(plan=link.plan, keeper=request.user, tank=tank)
    except ValidationError as problem:
        messages.error(request, f"Not taken into {tank}: {' '.join(problem.messages)}")
        return redirect("shared_plan", request.resolver_match.kwargs["token"])
    messages.success(request, f"“{plan}” is now a plan of {tank}. It is your own copy.")
    return redirect(plan)


def unit_of(request):
    return getattr(request.user, "units", CM)


def shown(request, plan):
    """Return what a visitor's page of a layout starts from: nothing to change, no way inside."""
    unit = unit_of(request)
    token = request.resolver_match.kwargs["token"]
    page = layout_page(plan, unit=unit)
    return {
        "plan": plan,
        "unit": unit,
        "page": page,
        "compared": comparison(page, unit=unit),
        "currency": plan.owner.currency,
        "may_change": False,
        "plan_at": reverse("shared_plan", args=[token]),
    }


@opened_by_token(PlanLink)
def shared_plan(request, link):
    if link.plan.kind == Plan.Kind.WHAT_IF:
        # Corals are not the plan's to show.
        context = what_if_context(link.plan, unit=unit_of(request), with_corals=False)
        if request.user.is_authenticated:
            context["take_form"] = TakePlanForm(user=request.user)
        return render(request, "sharing/shared_what_if.html", context)
    context = shown(request, link.plan)
    if request.user.is_authenticated:
        context["take_form"] = TakePlanForm(user=request.user)
    return render(request, "sharing/shared_plan.html", context)


@opened_by_token(PlanLink)
def shared_plan_answer(request, link, number):
    if link.plan.kind != Plan.Kind.LAYOUT:
        raise Http404
    context = shown(request, link.plan)
    if not 1 <= number <= len(context["page"].answers):
        raise Http404
    # Corals are not the plan's to show, nor which of them sets the start.
    start = replace(start_of(link.plan, context["page"], number), coral=None)
    context |= answer_context(context["page"], number, request.GET,
                              unit=context["unit"], pins=(), start=start)  # fmt: skip
    return render(request, "sharing/shared_plan_answer.html", context)
