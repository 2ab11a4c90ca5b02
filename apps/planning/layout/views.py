"""A layout plan: ask, watch the search, compare the answers, hang one."""

from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_POST

from apps.common.htmx import render_part
from apps.common.idempotency import once
from apps.lightmap.pins import pins_for
from apps.planning.access import may_change_plan, readable_plan, writable_plan
from apps.planning.layout.asking import LayoutAsking
from apps.planning.layout.hanging_answer import hanging_address
from apps.planning.layout.map import answer_planes
from apps.planning.layout.measured_tank import newer_survey_day
from apps.planning.layout.searching import (
    advance_search,
    answers_of,
    resume_search,
    stop_search,
)
from apps.planning.layout.sheet import layout_sheet
from apps.planning.layout.zone_presets import PRESETS
from apps.planning.layout_documents import asked_to_json
from apps.planning.models import Plan
from apps.tanks.access import writable_tank

LAYOUT = Plan.Kind.LAYOUT


@login_required
@once()
def tank_layout_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    return ask(request, Plan(owner=request.user, tank=tank, kind=LAYOUT))


@login_required
@once()
def layout_new(request):
    return ask(request, Plan(owner=request.user, kind=LAYOUT))


@login_required
def layout_edit(request, pk):
    return ask(request, writable_plan(request.user, pk, kind=LAYOUT))


def ask(request, plan):
    """Show or take the question of a plan; a changed question starts its search anew."""
    data = request.POST if request.method == "POST" else None
    again = data.get("again", "") if data is not None else ""
    stored = plan if plan.pk else None
    asking = LayoutAsking(user=request.user, tank=plan.tank, data=data, again=again, plan=stored)
    if data is not None and asking.is_valid():
        plan.name, plan.notes = (asking.name.cleaned_data[key] for key in ("name", "notes"))
        asked = asked_to_json(asking.asked())
        if asked != plan.asked:
            plan.asked, plan.answer = asked, {}
        plan.full_clean()
        plan.save()
        # Most searches are done before a page could show how far they are.
        advance_search(plan=plan)
        return redirect("layout_detail", plan.pk)
    context = {
        "tank": plan.tank,
        "plan": stored,
        "asking": asking,
        "unit": request.user.units,
        "presets": [(key, preset.name) for key, preset in PRESETS.items()],
        "sent_back": data is not None,
    }
    status = 422 if asking.bound else 200
    return render(request, "planning/layout/layout_form.html", context, status=status)


@login_required
def layout_detail(request, pk):
    plan = readable_plan(request.user, pk, kind=LAYOUT)
    return render(request, "planning/layout/layout_detail.html", detail_context(request, plan))


def detail_context(request, plan):
    sheet = layout_sheet(plan, unit=request.user.units)
    return {
        "plan": plan,
        "tank": plan.tank,
        "sheet": sheet,
        "outdated": plan.tank is not None and is_outdated(plan.tank, sheet.asked.question),
        "newer_survey": plan.tank and newer_survey_day(plan.tank, sheet.asked.surveyed_on, now()),
        "unit": request.user.units,
        "may_change": may_change_plan(request.user, plan),
        "owns": request.user.pk == (plan.tank or plan).owner_id,
        # Pages that show a plan to others lead elsewhere.
        "plan_at": plan.get_absolute_url(),
    }


def is_outdated(tank, question):
    """Return whether a tank has other measures or other rock than when the question was asked."""
    return (tank.scene(), tank.scene_rocks()) != (question.tank, question.rocks)


@login_required
@require_POST
def layout_search(request, pk):
    """Work on the search for one turn; "stop" lets it rest, "resume" takes it up again."""
    plan = writable_plan(request.user, pk, kind=LAYOUT)
    if "stop" in request.POST:
        stop_search(plan=plan)
    else:
        if "resume" in request.POST:
            resume_search(plan=plan)
        if not plan.answer or not (plan.answer["stopped"] or plan.answer["finished"]):
            advance_search(plan=plan)
    if not request.htmx:
        return redirect("layout_detail", pk)
    return render_part(
        request, "planning/layout/layout_detail.html", "planning/layout/_layout_answers.html",
        detail_context(request, plan),
    )  # fmt: skip


@login_required
def layout_answer(request, pk, number):
    """One answer drawn as map, side view and hung plan, to print."""
    plan = readable_plan(request.user, pk, kind=LAYOUT)
    context = detail_context(request, plan)
    if not 1 <= number <= len(context["sheet"].answers):
        raise Http404
    context |= answer_context(
        context["sheet"], number, request.GET, unit=request.user.units,
        pins=pins_for(plan.tank) if plan.tank else (),
    )  # fmt: skip
    return render(request, "planning/layout/layout_answer.html", context)


def answer_context(sheet, number, params, *, unit, pins):
    """Return what the page of one answer shows besides the plan; `params` choose the zone."""
    chosen, zones = sheet.answers[number - 1], sheet.asked.question.zones
    zone = zones[zone_asked(params, len(zones))]
    return {
        "answer": chosen,
        "zone": zone,
        "map": answer_planes(
            sheet.asked, chosen.answer, pins=pins, unit=unit,
            depth_cm=sum(zone.depth_cm) / 2, y_cm=sum(zone.y_cm) / 2,
        ),
    }  # fmt: skip


def zone_asked(params, count):
    """Return which zone an address asks to look at, the first when it says nothing sound."""
    text = params.get("zone", "")
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 1
    return number - 1 if 1 <= number <= count else 0


@login_required
@require_POST
def layout_hang(request, pk, number):
    """Lead to the light-change form filled with one answer: nothing hangs until that is saved."""
    plan = writable_plan(request.user, pk, kind=LAYOUT)
    answers = answers_of(plan)[2] if plan.tank else ()
    if not 1 <= number <= len(answers):
        raise Http404
    layout = answers[number - 1].layout
    return redirect(hanging_address(plan=plan, layout=layout, user=request.user))
