"""The surveys of a tank, and the page of one: its facts, its head, its file."""

from collections.abc import Mapping

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.accounts.models import User
from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.common.numbers import whole_number
from apps.common.units import percent_words
from apps.lighting.history import light_history
from apps.surveys.access import readable_survey, writable_survey
from apps.surveys.forms import SurveyForm
from apps.surveys.models import Meter, Survey
from apps.surveys.plan.drawing import draw_rows
from apps.surveys.plan.points import add_points, given_places
from apps.surveys.recording import rows_of
from apps.surveys.tables.exporting import write_csv
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank

# Levels this close are the same number, typed twice [%].
SAME_LEVEL_PERCENT = 0.5
# Readings listed at once; more fold under their number.
READINGS_OPEN = 30


@login_required
def survey_list(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    surveys = tank.surveys.present().newest_first().with_counts().select_related("meter")
    context = {"tank": tank, "surveys": surveys, "may_write": may_write(request.user, tank)}
    return render(request, "surveys/survey/survey_list.html", context)


@login_required
@once()
def survey_new(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = writable_tank(request.user, tank_pk)
    survey = Survey(tank=tank, created_by=request.user, taken_at=timezone.now())
    survey.meter = _meter_just_made(request)
    usual = {} if survey.meter else {"meter": _meter_used_last(request.user, tank)}
    return _form_page(request, survey, then="survey_plan", initial=usual)


def _meter_just_made(request: HttpRequest) -> Meter | None:
    """Return the keeper's meter that the address names, if any."""
    pk = whole_number(request.GET.get("meter", ""))
    return None if pk is None else Meter.objects.usable_by(request.user).filter(pk=pk).first()


def _meter_used_last(user: User, tank: Tank) -> Meter | None:
    """Return the keeper's meter of the last survey in a tank, else of their last anywhere."""
    surveys = Survey.objects.present().filter(
        created_by=user, meter__in=Meter.objects.usable_by(user)
    )
    here = surveys.filter(tank=tank).order_by("-taken_at", "-pk").first()
    last = here or surveys.order_by("-taken_at", "-pk").first()
    return last.meter if last else None


@login_required
def survey_edit(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    return _form_page(request, survey, then="survey_detail")


def _form_page(
    request: HttpRequest, survey: Survey, *, then: str, initial: Mapping[str, object] | None = None
) -> HttpResponse:
    form = SurveyForm(request.POST or None, instance=survey, user=request.user, initial=initial)
    if request.method == "POST" and form.is_valid():
        survey = form.save()
        if places := given_places(request.GET, survey.tank):
            # Begun for one point of the map: straight to the pad, where it is the first.
            add_points(survey=survey, places=places)
            then = "survey_enter"
        return go_to(request, reverse(then, args=[survey.pk]))
    context = {
        "form": form,
        "survey": survey,
        "tank": survey.tank,
    }
    status = 422 if form.is_bound else 200
    return render_part(
        request,
        "surveys/survey/survey_edit.html",
        "surveys/survey/_survey_form.html",
        context,
        status=status,
    )


@login_required
@require_POST
def survey_start_afresh(request: HttpRequest, survey_pk: int) -> HttpResponse:
    """Let the map forget what was read before this survey, or take it in again."""
    survey = writable_survey(request.user, survey_pk)
    survey.starts_anew = request.POST.get("afresh") == "on"
    survey.save(update_fields=["starts_anew"])
    words = (
        "The map now begins with this survey."
        if survey.starts_anew
        else "Earlier readings count again."
    )
    messages.success(request, words)
    return go_to(request, reverse("survey_detail", args=[survey.pk]))


@login_required
@kept_page(readable_survey)
def survey_detail(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = readable_survey(request.user, survey_pk)
    readings = list(survey.readings.all())
    for reading in readings:
        reading.survey = survey
    plan, side = draw_rows(survey.tank, readings, unit=request.user.units)
    context = {
        "survey": survey,
        "tank": survey.tank,
        "readings": readings,
        "plan": plan,
        "side": side,
        "folds": len(readings) > READINGS_OPEN,
        "last_revision": survey.last_revision(),
        "has_spread": any(reading.spread_umol is not None for reading in readings),
        "is_corrected": survey.correction_factor != 1,
        "meter_check": survey.meter.check_on(survey.day()) if survey.meter else None,
        "is_scaled": survey.level_percent != 100,
        "same_level": _fixture_at_that_level(survey),
        "check_caution": survey.meter.check_caution(survey.day()) if survey.meter else "",
        "light_state": _light_state(survey),
        "may_write": may_write(request.user, survey.tank),
    }
    return render(request, "surveys/survey/survey_detail.html", context)


def _fixture_at_that_level(survey: Survey) -> str | None:
    """Return the name of a fixture that hung at just the level noted for the survey, or None.

    Then the keeper may have given the lamp's setting where the share of the day's peak belongs.
    """
    if survey.level_percent == 100:
        return None
    rig = light_history(survey.tank).rig_at(survey.taken_at)
    alike = (f for f in rig if abs(100 * f.level - survey.level_percent) < SAME_LEVEL_PERCENT)
    return next((fixture.name or "a lamp" for fixture in alike), None)


def _light_state(survey: Survey) -> list[str]:
    """Return what was noted of the lights, in a few words each."""
    words = [f"{name} {percent_words(percent, 'g')}" for name, percent in survey.levels.items()]
    if survey.pumps:
        words.append(f"pumps {survey.pumps}")
    if survey.lid:
        words.append(f"lid {survey.lid}")
    if survey.hours_on is not None:
        words.append(f"{survey.hours_on:g}\u00a0h after lights-on")
    return words


@login_required
def survey_export(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = readable_survey(request.user, survey_pk)
    name = f"survey-{survey.day():%Y-%m-%d}-{survey.pk}.csv"
    return HttpResponse(
        write_csv(rows_of(survey)),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
