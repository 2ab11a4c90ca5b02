"""The readings of one survey, typed in a table and saved as a whole."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from apps.common.htmx import go_to, render_part
from apps.common.removal import offer_undo
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.access import writable_survey
from apps.surveys.models import Survey
from apps.surveys.recording import (
    InvalidRows,
    NothingToUndo,
    StaleSurvey,
    rows_of,
    save_readings,
    undo_last_save,
)
from apps.surveys.tables.reading_table import ReadingTable, grid_rows
from apps.surveys.tables.typed_rows import TypedRow
from apps.tanks.deleted import leads_on_when_deleted

PAGE, FRAGMENT = "surveys/tables/survey_readings.html", "surveys/tables/_survey_readings.html"


@login_required
def survey_readings(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    unit = request.user.units
    if request.method != "POST":
        return _empty_or_stored(request, survey, unit)
    table = ReadingTable.posted(survey, request.POST, unit=unit)
    if not table.is_sound:
        return _page(request, survey, table, status=422, sent_back=True)
    return _save(request, survey, table)


def _empty_or_stored(request: HttpRequest, survey: Survey, unit: str) -> HttpResponse:
    """Show what the survey holds, with the points of a grid behind it if the address names one."""
    points = grid_rows(survey.tank, request.GET, unit=unit)
    if points and request.htmx:
        return render(request, "surveys/tables/_reading_rows.html", {"rows": points})
    table = ReadingTable.of(survey, unit=unit)
    if points:
        table.rows = [row for row in table.rows if not row.is_blank] + points
    return _page(request, survey, table)


def _save(request: HttpRequest, survey: Survey, table: ReadingTable) -> HttpResponse:
    rows = table.readings()
    if "keep_both" in request.POST:
        rows += table.against(rows_of(survey)).only_saved_readings
    try:
        saved = save_readings(
            survey=survey, rows=rows, expected_version=table.version, by=request.user
        )
    except StaleSurvey as stale:
        return _conflict(request, stale.survey, table)
    except InvalidRows as invalid:
        table.take_errors(invalid.by_row)
        whole = [] if invalid.by_row else invalid.messages
        return _page(request, survey, table, status=422, sent_back=True, problems=whole)
    if table.planned_count:
        table.version = saved.version
        return _page(request, saved, table, sent_back=True, saved_count=len(rows))
    tell_saved(request, saved, len(rows))
    return go_to(request, reverse("survey_detail", args=[survey.pk]))


def _conflict(request: HttpRequest, survey: Survey, table: ReadingTable) -> HttpResponse:
    conflict = table.against(rows_of(survey))
    # Saving once more is now done knowingly: it is set against what the page shows.
    table.version = survey.version
    return _page(
        request,
        survey,
        table,
        status=409,
        sent_back=True,
        conflict=conflict,
        last_save=survey.last_revision(),
    )


def _page(
    request: HttpRequest, survey: Survey, table: ReadingTable, *, status: int = 200, **more: object
) -> HttpResponse:
    context = {
        "survey": survey,
        "tank": survey.tank,
        "table": table,
        "blank_row": TypedRow(),
        "most_rows": SURVEY_READINGS_MAX,
        "unit": table.unit,
        **more,
    }
    return render_part(request, PAGE, FRAGMENT, context, status=status)


def tell_saved(request: HttpRequest, survey: Survey, count: int) -> None:
    """Say what was saved, with an undo that only takes back this very save."""
    undo = reverse("survey_readings_undo", args=[survey.pk, survey.version])
    plural = "" if count == 1 else "s"
    offer_undo(request, f"Saved: the survey holds {count:,} reading{plural}.", undo)


@login_required
@require_POST
@leads_on_when_deleted("survey", by="survey_pk")
def survey_readings_undo(request: HttpRequest, survey_pk: int, version: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    try:
        back = undo_last_save(survey=survey, by=request.user, expected_version=version)
    except StaleSurvey:
        messages.warning(request, "Not undone: the readings were saved again in the meantime.")
    except NothingToUndo:
        messages.warning(request, "There is no earlier save to go back to.")
    else:
        undo = reverse("survey_readings_undo", args=[survey.pk, back.version])
        offer_undo(request, "The readings are back as they stood before that save.", undo)
    return redirect("survey_detail", survey.pk)
