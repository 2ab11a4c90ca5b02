"""Acclimation plans: made, followed step by step, dated anew."""

import math
from collections.abc import Callable, Sequence

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.accounts.models import User
from apps.common.htmx import go_to, render_part
from apps.common.idempotency import Write, once
from apps.common.numbers import UnreadableNumber, whole_number
from apps.common.removal import offer_undo
from apps.corals.access import readable_coral, writable_coral
from apps.corals.models import Coral
from apps.lighting.change.factor import parse_factor
from apps.lighting.rig import rig_in_force
from apps.photics.day.acclimation import PACES
from apps.planning.acclimation.acclimated_light import acclimated_par, what_lacks
from apps.planning.acclimation.acclimating import (
    following_of,
    notes_by_plan,
    notes_of,
    save_acclimation,
    steps_of,
    stored_rig,
    tick_step,
    untick,
)
from apps.planning.acclimation.drawing import acclimation_drawing
from apps.planning.acclimation.forms import (
    CoralStepsForm,
    DatesForm,
    StepsForm,
    TankStepsForm,
    TickForm,
)
from apps.planning.acclimation.limiting_coral import coral_targets
from apps.planning.acclimation.page import acclimation_page
from apps.planning.acclimation.step_settings import UnreachableLight, daylight_at, most_by_level
from apps.planning.acclimation.steps_calendar import plan_calendar
from apps.planning.acclimation.words import setting_words
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick
from apps.planning.what_if.live_light import LiveLight, live_light
from apps.tanks.access import may_write, readable_tank, require_write, writable_tank
from apps.tanks.kept_pages.pages import kept_page

# What a template is given, by name.
Context = dict[str, object]
# What a whole tank's plan goes to where nobody wished anything, for 1 now [1]: chosen, because a
# quarter more is a step that keepers often take.
USUAL_FACTOR = 1.25
FORM, FORM_PART = (
    "planning/acclimation/acclimation_new.html",
    "planning/acclimation/_acclimation_form.html",
)


def readable_acclimation(user: User, pk: int) -> Acclimation:
    """Return a plan with all it is followed by, or raise Http404 for a stranger."""
    plans = Acclimation.objects.visible_to(user)
    return get_object_or_404(plans.with_all(), pk=pk)


def writable_acclimation(user: User, pk: int) -> Acclimation:
    """Return a plan, or raise Http404 for a stranger and PermissionDenied for a viewer."""
    plan = readable_acclimation(user, pk)
    require_write(user, plan.tank)
    return plan


@login_required
@kept_page(readable_tank)
def acclimation_list(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    plans = list(tank.acclimations.visible_to(request.user).with_all())
    notes = notes_by_plan(plans)
    rows = rig_in_force(tank, timezone.now()) if plans else []
    context = {
        "tank": tank,
        "pages": [
            acclimation_page(plan, notes[plan.pk], rows, full_dli=lambda par: None, unit=unit)
            for plan in plans
        ],
        "corals": Coral.objects.present().living().filter(tank=tank),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "planning/acclimation/acclimation_list.html", context)


@login_required
@once(but="look", late=True)
def acclimation_new(request: HttpRequest, coral_pk: int) -> HttpResponse | Write:
    """Plan the steps of one coral."""
    coral = writable_coral(request.user, coral_pk)
    tank, now = coral.tank, timezone.now()
    live, spot = live_light(tank, now), coral.spot_on(tank.today())
    used = acclimated_par([coral], live.light, now, tank.zone).get(coral.pk)
    context: Context = {"tank": tank, "coral": coral, "spot": spot, "paces": PACES,
                        "not_measured": live.not_measured}  # fmt: skip
    if spot is None or used is None:
        context["lacks"] = what_lacks(live, [spot] if spot else [])
        return render(request, "planning/acclimation/acclimation_none.html", context)
    band = coral.band(live.full_hours)
    point = [[spot.x_cm, spot.y_cm, spot.depth_cm]]
    now_umol = float(live.now_at(point).par_umol[0])
    middle = (band.low_umol + band.high_umol) / 2
    most = most_by_level(now_umol, live.rows, daylight_at(point, live))
    plan = Acclimation(
        tank=tank, coral=coral, created_by=request.user, starts_on=tank.today(),
        start_umol=used, target_umol=middle if middle <= most else math.floor(most),
    )  # fmt: skip
    if middle > most:
        context["most_umol"] = plan.target_umol
    form = CoralStepsForm(request.POST or None, instance=plan, full_hours=live.full_hours)
    context |= {
        "form": form,
        "now_umol": now_umol,
        "used_umol": used,
        "band": band,
    }
    context["used_dli"] = live.dli_mol(used)
    return make_or_show(
        request, form, plan, lambda: steps_of(plan, spot=spot, live=live), live, context
    )


@login_required
@once(but="look", late=True)
def acclimation_tank_new(request: HttpRequest, tank_pk: int) -> HttpResponse | Write:
    """Plan the steps of all corals, paced by the limiting one."""
    tank = writable_tank(request.user, tank_pk)
    live = live_light(tank, timezone.now())
    targets = coral_targets(tank, live, factor=1.0)
    context: Context = {"tank": tank, "paces": PACES, "not_measured": live.not_measured}
    if not targets:
        corals = Coral.objects.present().living().filter(tank=tank).prefetch_related("spots")
        spots = [spot for coral in corals if (spot := coral.spot_on(tank.today()))]
        context["lacks"] = what_lacks(live, spots)
        return render(request, "planning/acclimation/acclimation_none.html", context)
    limiting = targets[0]
    plan = Acclimation(
        tank=tank, coral=limiting.coral, whole_tank=True, created_by=request.user,
        starts_on=tank.today(), start_umol=limiting.acclimated_umol, target_umol=limiting.now_umol,
    )  # fmt: skip
    # A layout plan leads here with the rise from its start levels to the planned ones.
    wanted, spot = factor_of(request.GET.get("factor", "")), limiting.spot
    daylight = daylight_at([[spot.x_cm, spot.y_cm, spot.depth_cm]], live)
    most = most_by_level(1.0, live.rows, daylight / limiting.now_umol)
    first = wanted if wanted <= most else math.floor(100.0 * most) / 100.0
    form = TankStepsForm(request.POST or None, instance=plan, initial={"factor": f"{first:g}"})
    if wanted > most:
        context["most_percent"] = 100.0 * first

    def steps() -> list[AcclimationStep]:
        led = coral_targets(tank, live, factor=form.cleaned_data["factor"])
        plan.coral, plan.start_umol = led[0].coral, led[0].acclimated_umol
        plan.target_umol = led[0].end_umol
        context["targets"] = led
        return steps_of(plan, spot=led[0].spot, live=live)

    context |= {"form": form, "targets": targets}
    return make_or_show(request, form, plan, steps, live, context)


def factor_of(text: str) -> float:
    """Return the factor that an address wishes [1], the usual one where it wishes none."""
    try:
        return parse_factor(text)
    except UnreadableNumber:
        return USUAL_FACTOR


def make_or_show(
    request: HttpRequest,
    form: StepsForm,
    plan: Acclimation,
    steps: Callable[[], list[AcclimationStep]],
    live: LiveLight,
    context: Context,
) -> HttpResponse | Write:
    """Show the form or its steps, or return what saves the plan and goes to it."""
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                made = steps()
            except UnreachableLight as problem:
                form.add_error(None, str(problem))
            else:
                if "look" not in request.POST:
                    return lambda: keep_plan(request, plan, made, live)
                status, context["steps"] = 200, shown_steps(plan, made, live, request.user.units)
    return render_part(request, FORM, FORM_PART, context, status=status)


def keep_plan(
    request: HttpRequest, plan: Acclimation, steps: Sequence[AcclimationStep], live: LiveLight
) -> HttpResponse:
    """Save a plan with its steps and go to it."""
    save_acclimation(plan=plan, steps=steps, rig=live.rows)
    messages.success(request, f"The plan for {plan} is made. Tick each step here.")
    return go_to(request, reverse("acclimation_detail", args=[plan.pk]))


def shown_steps(
    plan: Acclimation, steps: Sequence[AcclimationStep], live: LiveLight, unit: str
) -> list[Context]:
    """Return what the form shows of the steps it would make."""
    plan.rig = stored_rig(live.rows)
    return [
        {
            "number": step.number,
            "on": plan.planned_on(step.number),
            "light_umol": step.light_umol,
            "dli_mol": live.dli_mol(step.light_umol),
            "words": setting_words(plan, step.setting, unit),
        }
        for step in steps
    ]


@login_required
def acclimation_detail(request: HttpRequest, pk: int) -> HttpResponse:
    plan = readable_acclimation(request.user, pk)
    return show_acclimation(request, plan, TickForm(initial={"done_on": plan.tank.today()}))


@login_required
def acclimation_calendar(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the steps ahead as a file for the reader's calendar."""
    plan = readable_acclimation(request.user, pk)
    address = reverse("acclimation_detail", args=[plan.pk])
    text = plan_calendar(
        plan, request.user, now=timezone.now(),
        url=request.build_absolute_uri(address),
    )  # fmt: skip
    response = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="acclimation.ics"'
    return response


def show_acclimation(
    request: HttpRequest, plan: Acclimation, tick_form: TickForm, *, status: int = 200
) -> HttpResponse:
    """Show a plan's page with the form of its next step."""
    now = timezone.now()
    live = live_light(plan.tank, now)
    page = acclimation_page(
        plan, notes_of(plan), live.rows, full_dli=live.dli_mol, unit=request.user.units
    )
    context = {
        "tank": plan.tank,
        "coral": plan.coral,
        "page": page,
        "pace": next(pace for pace in PACES if pace.key == plan.pace),
        "drawing": acclimation_drawing(plan, live.light, now=now, dli_per_umol=live.dli_mol(1.0)),
        "tick_form": tick_form,
        "today": plan.tank.today(),
        "may_write": may_write(request.user, plan.tank),
        "not_measured": live.not_measured,
    }
    return render(request, "planning/acclimation/acclimation_detail.html", context, status=status)


@login_required
def acclimation_edit(request: HttpRequest, pk: int) -> HttpResponse:
    plan = writable_acclimation(request.user, pk)
    form = DatesForm(request.POST or None, instance=plan)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved. The steps still to take follow the new days.")
        return redirect("acclimation_detail", plan.pk)
    context = {"tank": plan.tank, "plan": plan, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "planning/acclimation/acclimation_edit.html", context, status=status)


@login_required
@require_POST
def acclimation_tick(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    plan = writable_acclimation(request.user, pk)
    form = TickForm(request.POST, instance=AcclimationTick(acclimation=plan, number=number))
    if form.is_valid():
        try:
            tick = tick_step(
                plan=plan, number=number, done_on=form.cleaned_data["done_on"], user=request.user
            )
        except ValidationError as problem:
            form.add_error(None, problem)
        else:
            word = f"Step {number} is ticked." if number else "Ticked: back to before the first."
            # The tick's row goes with it: the plan is named beside, for a second tap on Undo.
            undo = reverse("acclimation_untick", args=[tick.pk])
            offer_undo(request, word, f"{undo}?plan={plan.pk}")
            return redirect("acclimation_detail", pk)
    return show_acclimation(request, plan, form, status=422)


@login_required
@require_POST
def acclimation_untick(request: HttpRequest, tick_pk: int) -> HttpResponse:
    tick = AcclimationTick.objects.select_related("acclimation").filter(pk=tick_pk).first()
    if tick is None:
        return untick_twice(request)
    plan = writable_acclimation(request.user, tick.acclimation_id)
    try:
        untick(tick)
        messages.success(request, "The tick is gone.")
    except ValidationError as problem:
        messages.error(request, " ".join(problem.messages))
    return redirect("acclimation_detail", plan.pk)


def untick_twice(request: HttpRequest) -> HttpResponse:
    """Lead back to the plan whose tick is gone already; raises Http404 where none is named."""
    pk = whole_number(request.GET.get("plan", ""))
    if pk is None:
        raise Http404
    plan = writable_acclimation(request.user, pk)
    messages.info(request, "That tick was undone already.")
    return redirect("acclimation_detail", plan.pk)


@login_required
def acclimation_of_coral(request: HttpRequest, coral_pk: int) -> HttpResponse:
    """Say on a coral's page how its plans stand, with the newest drawn."""
    coral = readable_coral(request.user, coral_pk)
    plans = Acclimation.objects.visible_to(request.user).filter(coral=coral).with_all()
    plan = plans.first()
    context = {"tank": coral.tank, "coral": coral, "may_write": may_write(request.user, coral.tank)}
    if not request.htmx:
        return redirect("acclimation_list", coral.tank_id)
    if plan is not None:
        now = timezone.now()
        live = live_light(coral.tank, now)
        notes = notes_of(plan)
        context |= {
            "plan": plan,
            "not_measured": live.not_measured,
            "following": following_of(plan, notes, live.rows),
            "page": acclimation_page(
                plan, notes, live.rows, full_dli=live.dli_mol, unit=request.user.units
            ),
            "drawing": acclimation_drawing(
                plan, live.light, now=now, dli_per_umol=live.dli_mol(1.0)
            ),
        }
    return render(request, "planning/acclimation/_acclimation_of_coral.html", context)
