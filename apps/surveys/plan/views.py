"""Planning a survey: where the sensor is to be held, drawn, numbered and printable."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.photics.ground.lengths import to_cm
from apps.surveys.access import readable_survey, writable_survey
from apps.surveys.models import Survey
from apps.surveys.plan.drawing import draw_points
from apps.surveys.plan.forms import PlanForm
from apps.surveys.plan.grid_rule import rule_grid
from apps.surveys.plan.points import TooManyPoints, plan_as_wished, points_with_values
from apps.surveys.plan.proposal import proposal_of
from apps.tanks.access import may_write

# A sheet without planned points: an afternoon without a plan, on a page and a half.
BLANK_LINES = 40


# The button that only looks, and where the others lead.
LOOK = "look"
THEN = {"pad": "survey_enter", "table": "survey_readings", "sheet": "survey_sheet"}


@login_required
@once(but=LOOK)
def survey_plan(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    tank, unit = survey.tank, request.user.units
    if request.method != "POST":
        dense = "dense" in request.GET
        return _page(request, survey, PlanForm.of_survey(survey, unit, dense=dense))
    form = PlanForm(request.POST, tank=tank, unit=unit)
    places, sentence = form.places() if form.is_valid() else ([], "")
    if form.is_valid() and not places:
        form.add_error("pattern", sentence or "That gives no points.")
    if form.errors or LOOK in request.POST:
        return _page(request, survey, form, status=422 if form.errors else 200)
    try:
        count = plan_as_wished(survey=survey, form=form, places=places)
    except TooManyPoints as problem:
        form.add_error(None, str(problem))
        return _page(request, survey, form, status=422)
    plural = "" if count == 1 else "s"
    messages.success(request, f"Planned {count} point{plural}. {sentence}".strip())
    then = THEN.get(request.POST.get("then", ""), "survey_plan")
    return go_to(request, reverse(then, args=[survey.pk]))


def _page(
    request: HttpRequest, survey: Survey, form: PlanForm, *, status: int = 200
) -> HttpResponse:
    tank, unit = survey.tank, request.user.units
    rule = rule_grid(length_cm=tank.length_cm, width_cm=tank.width_cm)
    sent = form if form.is_bound else form.filled()
    context = {
        **_points_context(request, survey),
        "form": form,
        "proposal": proposal_of(sent, tank, unit) if sent.is_valid() else None,
        "unit_cm": to_cm(1.0, unit),
        "rule": rule,
        "rule_nx": len(rule.x_cm),
        "rule_ny": len(rule.y_cm),
        "offers_dense": sent.is_valid() and sent.is_sparser_than(rule.count),
    }
    fragment = "surveys/plan/_plan_preview.html"
    return render_part(request, "surveys/plan/survey_plan.html", fragment, context, status=status)


def _points_context(request: HttpRequest, survey: Survey) -> dict[str, object]:
    points = points_with_values(survey)
    unit = request.user.units
    plan, side = draw_points(survey.tank, points, unit=unit)
    return {
        "survey": survey,
        "tank": survey.tank,
        "points": points,
        "unread": sum(point.reading is None for point in points),
        "plan": plan,
        "side": side,
        "may_write": may_write(request.user, survey.tank),
    }


@login_required
def survey_sheet(request: HttpRequest, survey_pk: int) -> HttpResponse:
    """The plan on paper: the same numbers, with room for what the meter shows; else blank lines."""
    survey = readable_survey(request.user, survey_pk)
    context = _points_context(request, survey) | {"blank_lines": range(1, BLANK_LINES + 1)}
    return render(request, "surveys/plan/survey_sheet.html", context)


@login_required
@require_POST
def planned_point_remove(request: HttpRequest, survey_pk: int, number: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    point = get_object_or_404(survey.planned_points, number=number)
    point.delete()
    messages.success(request, f"Point {number} is out of the plan. A reading taken there stays.")
    return redirect("survey_plan", survey.pk)
