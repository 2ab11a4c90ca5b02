"""Bringing readings in from a spreadsheet: check, fix what is bad in place, import the good."""

import datetime as dt
import uuid
from collections.abc import Mapping

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from apps.common.htmx import go_to, render_part
from apps.common.numbers import whole_number
from apps.common.tables.reading import UnreadableTable
from apps.photics.limits import IMPORT_LINES_MAX, SURVEY_READINGS_MAX
from apps.surveys.access import writable_survey
from apps.surveys.models import Survey
from apps.surveys.plan.drawing import draw_rows
from apps.surveys.recording import InvalidRows, StaleSurvey
from apps.surveys.tables.adding import add_table
from apps.surveys.tables.import_form import ImportForm
from apps.surveys.tables.importing import ParsedTable, UnsureColumns, seen_columns
from apps.surveys.tables.reading_views import tell_saved
from apps.surveys.tables.survey_days import days_of
from apps.surveys.tables.typed_rows import COLUMNS, typed_from

PAGE, FRAGMENT = "surveys/tables/survey_import.html", "surveys/tables/_survey_import.html"
FIRST_ROWS = 10
BAD_LINES_SHOWN = 100


@login_required
def survey_import(request: HttpRequest, survey_pk: int) -> HttpResponse:
    survey = writable_survey(request.user, survey_pk)
    if request.method != "POST":
        first = {"unit": request.user.units, "how": ImportForm.ADD}
        return _page(request, survey, ImportForm(initial=first))
    form = ImportForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, survey, form, status=422)
    days = days_of(form.whole_text())
    if len(days) > 1:
        return _ask_day(request, survey, form, days)
    try:
        parsed = form.parse(survey)
    except UnsureColumns as problem:
        # The whole text goes into the box, so that the match is about what is seen there.
        text = form.whole_text()
        again = ImportForm(initial={**form.cleaned_data, "text": text, "bad": "", "file": None})
        seen = seen_columns(text, form.match())
        problems = [str(problem), *filter(None, [form.sheet_words()])]
        return _page(request, survey, again, status=422, seen=seen, problems=problems)
    except UnreadableTable as problem:
        form.add_error(form.table_field(), str(problem))
        return _page(request, survey, form, status=422)
    if "import" in request.POST and parsed.good:
        return _import(request, survey, form, parsed)
    return _page(
        request,
        survey,
        _sorted_form(form, parsed),
        parsed=parsed,
        batch=uuid.uuid4(),
        sheet_words=form.sheet_words(),
    )


def _ask_day(
    request: HttpRequest, survey: Survey, form: ImportForm, days: Mapping[dt.date, int]
) -> HttpResponse:
    """Ask which of a table's days is this survey's; the whole table stays in the box."""
    again = ImportForm(
        initial={**form.cleaned_data, "text": form.whole_text(), "bad": "", "file": None}
    )
    own = survey.taken_at.astimezone(survey.tank.zone).date()
    choices = [(day.isoformat(), day, count, day == own) for day, count in days.items()]
    return _page(request, survey, again, status=422, days=choices)


def _import(
    request: HttpRequest, survey: Survey, form: ImportForm, parsed: ParsedTable
) -> HttpResponse:
    batch = _uuid(request.POST.get("batch"))
    adding = form.cleaned_data["how"] == ImportForm.ADD
    version = None if adding else _number(request.POST.get("version"))
    try:
        saved, count = add_table(
            survey=survey, parsed=parsed, batch=batch, replaces=version, by=request.user
        )
    except StaleSurvey as stale:
        form = _sorted_form(form, parsed)
        return _page(
            request, stale.survey, form, status=409, parsed=parsed, batch=batch, is_stale=True
        )
    except InvalidRows as invalid:
        form = _sorted_form(form, parsed)
        return _page(
            request, survey, form, status=422, parsed=parsed, batch=batch, problems=invalid.messages
        )
    if parsed.bad:
        return _left_over(request, saved, form, parsed)
    tell_saved(request, saved, count)
    return go_to(request, reverse("survey_detail", args=[saved.pk]))


def _left_over(
    request: HttpRequest, survey: Survey, form: ImportForm, parsed: ParsedTable
) -> HttpResponse:
    """Show the form again with the lines that were not imported: they stay until dealt with."""
    left = "\n".join(filter(None, [parsed.layout.header, parsed.bad_text()]))
    data = {"text": left, "how": ImportForm.ADD}
    data |= {name: form.cleaned_data[name] for name in ("unit", "mark")}
    return _page(
        request, survey, ImportForm(initial=data), imported=len(parsed.good), left=len(parsed.bad)
    )


def _sorted_form(form: ImportForm, parsed: ParsedTable) -> ImportForm:
    """Return the form with good and bad lines apart, each as it was written."""
    data = {"text": parsed.good_text(), "bad": parsed.bad_text()}
    return ImportForm(initial={**form.cleaned_data, **data, "file": None})


def _uuid(text: str | None) -> uuid.UUID:
    try:
        return uuid.UUID(text or "")
    except ValueError:
        return uuid.uuid4()


def _number(text: str | None) -> int:
    number = whole_number(text or "")
    return -1 if number is None else number


def _page(
    request: HttpRequest,
    survey: Survey,
    form: ImportForm,
    *,
    status: int = 200,
    parsed: ParsedTable | None = None,
    **more: object,
) -> HttpResponse:
    context = {
        "survey": survey,
        "tank": survey.tank,
        "form": form,
        "parsed": parsed,
        "reading_count": survey.readings.count(),
        "most_rows": SURVEY_READINGS_MAX,
        "most_lines": IMPORT_LINES_MAX,
        "sent_back": request.method == "POST",
        "column_choices": [(name, spoken) for name, (_, spoken) in COLUMNS.items()],
        **more,
    }
    if parsed:
        context |= _parsed_context(survey, parsed, unit=request.user.units)
    return render_part(request, PAGE, FRAGMENT, context, status=status)


def _parsed_context(survey: Survey, parsed: ParsedTable, *, unit: str) -> dict[str, object]:
    """Return what the page shows of a table that was read: its good and its bad lines."""
    rows = [line.row for line in parsed.good[:SURVEY_READINGS_MAX]]
    plan, side = draw_rows(survey.tank, rows, unit=unit)
    return {
        "plan": plan,
        "side": side,
        "seen": seen_columns(parsed.shown_text(), parsed.layout.places),
        "first_good": [typed_from(row, unit=unit) for row in rows[:FIRST_ROWS]],
        "has_spread": any(row.spread_umol is not None for row in rows),
        "bad_shown": parsed.bad[:BAD_LINES_SHOWN],
        "bad_more": max(len(parsed.bad) - BAD_LINES_SHOWN, 0),
        "is_too_many": len(parsed.good) > SURVEY_READINGS_MAX,
    }
