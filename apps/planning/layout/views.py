"""A layout plan: its question, its search, its answers compared, one of them hung."""

from collections.abc import Mapping, Sequence

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_POST

from apps.accounts.models import User
from apps.common.htmx import render_part
from apps.common.idempotency import Write, once, written
from apps.common.numbers import whole_number
from apps.common.own_fields import save_own
from apps.lightmap.pins import Pin, pins_for
from apps.photics.ground.lengths import UNIT_WORDS
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.layout.question import Question
from apps.planning.access import may_change_plan, readable_plan, writable_plan
from apps.planning.layout.buying import purchases
from apps.planning.layout.by_hand import changed_answer, hand_form
from apps.planning.layout.compared import compare_address
from apps.planning.layout.comparison import (
    answer_words,
    comparison,
    heights_of,
    levels_of,
    zone_bar,
)
from apps.planning.layout.fixtures.channels import channels_of
from apps.planning.layout.fixtures.colour import kind_colours
from apps.planning.layout.forms import WORDS
from apps.planning.layout.hanging_answer import hanging_address
from apps.planning.layout.map import answer_planes
from apps.planning.layout.measured_tank import newer_survey_day
from apps.planning.layout.page import LayoutPage, answer_page, layout_page
from apps.planning.layout.programme import programme, read_clock
from apps.planning.layout.question_forms import QuestionForms
from apps.planning.layout.searching import (
    advance_search,
    answer_after,
    resume_search,
    searched_plan,
    stop_search,
    take_turn,
)
from apps.planning.layout.start_level import StartLevel, start_level
from apps.planning.layout.words import WEIGHT_WORDS, length_words
from apps.planning.models import LAYOUT, Plan
from apps.planning.sent import changed_since_sent, mark_sent
from apps.planning.stored_layout import write_question
from apps.tanks.access import writable_tank
from apps.tanks.models import Tank


@login_required
@once(late=True)
def tank_layout_new(request: HttpRequest, tank_pk: int) -> HttpResponse | Write:
    """Ask for a tank, as another plan was asked if one is named."""
    tank = writable_tank(request.user, tank_pk)
    plan = Plan(owner=request.user, tank=tank, kind=LAYOUT)
    return edit_question(request, plan, like=plan_named(request))


@login_required
@once(late=True)
def layout_new(request: HttpRequest) -> HttpResponse | Write:
    """Ask for a tank that is only measures, as another plan was asked if one is named."""
    plan = Plan(owner=request.user, kind=LAYOUT)
    return edit_question(request, plan, like=plan_named(request))


def plan_named(request: HttpRequest) -> Plan | None:
    """Return the plan an address names to start from, None without; Http404 of a stranger's."""
    pk = whole_number(request.GET.get("like", ""))
    return None if pk is None else readable_plan(request.user, pk, kind=LAYOUT)


@login_required
def layout_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return written(edit_question(request, writable_plan(request.user, pk, kind=LAYOUT)))


def edit_question(
    request: HttpRequest, plan: Plan, *, like: Plan | None = None
) -> HttpResponse | Write:
    """Show or take the question of a plan; a changed question starts its search anew.

    A new one starts `like` another; what saves it is returned.
    """
    data = request.POST if request.method == "POST" else None
    again = data.get("again", "") if data is not None else ""
    stored = plan if plan.pk else None
    forms = QuestionForms(
        user=request.user, tank=plan.tank, data=data, again=again, plan=stored or like
    )
    if data is not None and forms.is_valid():
        for name in WORDS:
            setattr(plan, name, forms.name.cleaned_data[name])
        question = write_question(forms.question())
        is_other = question != plan.asked
        if is_other:
            plan.asked, plan.answer = question, {}
        plan.full_clean()
        # Most searches are done before a page could show how far they are.
        if plan.pk is None:
            plan.answer = answer_after(plan)
            return lambda: keep_plan(plan)
        save_own(plan, [*WORDS, "asked", "answer"] if is_other else WORDS)
        advance_search(plan=plan)
        return redirect("layout_detail", plan.pk)
    context = {
        "tank": plan.tank,
        "plan": stored,
        "like": like,
        "forms": forms,
        "unit": request.user.units,
        "unit_cm": UNIT_WORDS[request.user.units],
        "sent_back": data is not None,
    }
    return render_part(
        request, "planning/layout/layout_form.html", "planning/layout/_layout_zones.html", context,
        status=422 if forms.bound else 200,
    )  # fmt: skip


def keep_plan(plan: Plan) -> HttpResponse:
    """Save a new plan and go to it."""
    plan.save()
    return redirect("layout_detail", plan.pk)


@login_required
def layout_detail(request: HttpRequest, pk: int) -> HttpResponse:
    plan = readable_plan(request.user, pk, kind=LAYOUT)
    return render(request, "planning/layout/layout_detail.html", detail_context(request, plan))


def detail_context(request: HttpRequest, plan: Plan) -> dict[str, object]:
    page = layout_page(plan, unit=request.user.units)
    weigh = request.GET.get("weigh", "")
    compared = comparison(page, unit=request.user.units, weigh=weigh)
    return {
        "plan": plan,
        "compared": compared,
        "weights": list(WEIGHT_WORDS.items()),
        "currency": plan.owner.currency,
        "changes_since_sent": changed_since_sent(
            plan, recommended=answer_words(compared), length=length_words(request.user.units)
        ),
        "tank": plan.tank,
        "page": page,
        "outdated": plan.tank is not None and is_outdated(plan.tank, page.stored.question),
        "newer_survey": plan.tank and newer_survey_day(plan.tank, page.stored.surveyed_on, now()),
        "unit": request.user.units,
        "may_change": may_change_plan(request.user, plan),
        "compare_at": compare_address(request.user, plan),
        "owns": request.user.pk == (plan.tank or plan).owner_id,
        "tanks_alike": [] if plan.tank else tanks_alike(request.user, page.stored.question.tank),
        # Pages that show a plan to others lead elsewhere.
        "plan_at": plan.get_absolute_url(),
    }


def tanks_alike(user: User, box: SceneTank) -> list[Tank]:
    """Return the tanks of a keeper that a plan made for a box would fit: those of its measures."""
    sides = {"length_cm": box.length_cm, "width_cm": box.width_cm, "depth_cm": box.depth_cm}
    return list(Tank.objects.changeable_by(user).filter(**sides).order_by("name", "pk"))


def is_outdated(tank: Tank, question: Question) -> bool:
    """Return whether a tank has other measures or other rock than when the question was stored."""
    return (tank.scene(), tank.scene_rocks()) != (question.tank, question.rocks)


@login_required
@require_POST
def layout_search(request: HttpRequest, pk: int) -> HttpResponse:
    """Work on the search for one turn; "stop" lets it rest, "resume" takes it up again."""
    plan = writable_plan(request.user, pk, kind=LAYOUT)
    if "stop" in request.POST:
        stop_search(plan=plan)
    else:
        if "resume" in request.POST:
            resume_search(plan=plan)
        if not plan.answer or not (plan.answer["stopped"] or plan.answer["finished"]):
            take_turn(plan=plan)
    if not request.htmx:
        return redirect("layout_detail", pk)
    return render_part(
        request, "planning/layout/layout_detail.html", "planning/layout/_layout_answers.html",
        detail_context(request, plan),
    )  # fmt: skip


@login_required
def layout_answer(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """One answer drawn as map, side view and hung plan, to print."""
    plan = readable_plan(request.user, pk, kind=LAYOUT)
    context = detail_context(request, plan)
    page = context["page"]
    if not isinstance(page, LayoutPage) or not 1 <= number <= len(page.answers):
        raise Http404
    searched, unit = searched_plan(plan), request.user.units
    planned = page.answers[number - 1].answer
    form = hand_form(request.GET, searched, planned, unit)
    changed = changed_answer(form, searched, planned)
    if changed is not planned:
        page = page.with_answer(answer_page(page.stored, changed, number, unit))
    context |= answer_context(
        page, number, request.GET, unit=unit,
        pins=planned_pins(plan, page), start=start_of(plan, page, number),
    )  # fmt: skip
    steps = purchases(searched, changed)
    context |= {
        "page": page,
        "hand": form,
        "changed_by_hand": changed is not planned,
        "purchases": steps,
        "knows_price": any(step.price is not None for step in steps),
    }
    status = 422 if form.errors else 200
    return render(request, "planning/layout/layout_answer.html", context, status=status)


def planned_pins(plan: Plan, page: LayoutPage) -> tuple[Pin, ...]:
    """Return the Pins of a plan's tank with their bands in the hours the plan rests on."""
    pins = pins_for(plan.tank) if plan.tank else ()
    return tuple(pin.at_hours(page.stored.day_hours) for pin in pins)


def start_of(plan: Plan, page: LayoutPage, number: int) -> StartLevel:
    """Return the StartLevel of one answer of a plan, by its number from 1 on."""
    layout = page.answers[number - 1].answer.layout
    return start_level(plan.tank, page.stored.question, layout, now())


def answer_context(
    page: LayoutPage,
    number: int,
    params: Mapping[str, str],
    *,
    unit: str,
    pins: Sequence[Pin],
    start: StartLevel,
) -> dict[str, object]:
    """Return what the page of one answer shows besides the plan; `params` choose the zone."""
    chosen, question = page.answers[number - 1], page.stored.question
    first_light = read_clock(params.get("on", ""))
    day = programme(
        page.stored, chosen.answer.layout, start, first_light=first_light,
        channels=channels_of(page.stored, chosen.answer.layout, page.library),
    )  # fmt: skip
    zone = question.zones[zone_number(params, len(question.zones))]
    return {
        "answer": chosen,
        "start": start,
        "colours": kind_colours(page.stored, chosen.answer.layout, page.library),
        "day": day,
        "first_light": f"{first_light:%H:%M}",
        "opens_day": "on" in params,
        "rise_rows": [(name, [row.levels[k] for row in day.rise])
                      for k, name in enumerate(day.kinds)],
        "bars": [zone_bar(page, light) for light in chosen.zones],
        "heights": heights_of(chosen, unit),
        "levels": levels_of(chosen),
        "hung_rows": [(row, start.percent(row.level_percent / 100.0)) for row in chosen.rows],
        "zone": zone,
        "map": answer_planes(
            question, chosen.answer.layout, pins=pins, unit=unit,
            depth_cm=sum(zone.depth_cm) / 2, y_cm=sum(zone.y_cm) / 2,
        ),
    }  # fmt: skip


def zone_number(params: Mapping[str, str], count: int) -> int:
    """Return which zone an address looks at, from 0 on; the first when it says nothing sound."""
    number = whole_number(params.get("zone", "")) or 1
    return number - 1 if number <= count else 0


@login_required
@require_POST
def layout_sent(request: HttpRequest, pk: int) -> HttpResponse:
    """Remember the plan as it is sent now, so that its page can say what changed since."""
    plan = writable_plan(request.user, pk, kind=LAYOUT)
    compared = comparison(layout_page(plan, unit=request.user.units), unit=request.user.units)
    mark_sent(plan=plan, recommended=answer_words(compared), now=now())
    messages.success(request, "Kept as sent. This page will say what changes from now on.")
    return redirect("layout_detail", pk)


@login_required
@require_POST
def layout_hang(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Lead to the light-change form filled with one answer: nothing hangs until that is saved."""
    plan = writable_plan(request.user, pk, kind=LAYOUT)
    searched = searched_plan(plan)
    answers = searched.answers if plan.tank else ()
    if not 1 <= number <= len(answers):
        raise Http404
    answer = answers[number - 1]
    form = hand_form(request.POST, searched, answer, request.user.units)
    layout = changed_answer(form, searched, answer).layout
    return redirect(hanging_address(plan=plan, layout=layout, user=request.user))
