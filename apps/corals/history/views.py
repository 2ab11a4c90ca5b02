"""Bringing a tank's history in from a spreadsheet: look at it, answer what it asks, add it."""

from collections.abc import Mapping

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from apps.common.removal import offer_undo
from apps.common.tables.reading import UnreadableTable, table_lines
from apps.corals.history.columns import ROLES, WATER
from apps.corals.history.forms import HistoryForm
from apps.corals.history.large import ADD, CHECK, check_again, put_down_table, sent_before
from apps.corals.history.naming import NEW, OUT
from apps.corals.history.preview import preview
from apps.corals.history.reading import read_history
from apps.corals.history.recording import import_history, read_to_add
from apps.corals.history.sent import SentTable
from apps.corals.history_models import HistoryImport
from apps.corals.models import Coral, HealthNote
from apps.later.models import Job
from apps.photics.limits import IMPORT_LINES_MAX
from apps.tanks.access import writable_tank
from apps.tanks.models import Tank

PAGE = "corals/history/history_import.html"
IMPORTS_SHOWN = 20


@login_required
def history_import(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = writable_tank(request.user, tank_pk)
    if request.method != "POST":
        if before := sent_before(request.GET.get("sent", ""), tank=tank, by=request.user):
            return _sent_before(request, tank, *before)
        return _page(request, tank, HistoryForm(initial={"unit": request.user.units}))
    form = HistoryForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, tank, form, status=422)
    sent = SentTable(form.whole_text(), form.answers(), form.source_name(), form.sheet_words())
    try:
        table_lines(sent.text)
        is_adding = "add" in request.POST
        if sent.is_long_to_add if is_adding else sent.is_long_to_read:
            return _behind(ADD if is_adding else CHECK, request, tank, sent)
        if is_adding:
            return _add(request, tank, form, sent)
        history = read_history(sent.text, tank=tank, answers=sent.answers)
    except UnreadableTable as problem:
        form.add_error(form.table_field(), str(problem))
        return _page(request, tank, form, status=422)
    shown = preview(history, tank)
    return _page(request, tank, _again(form), shown=shown, sheet_words=sent.sheet_words)


def _behind(name: str, request: HttpRequest, tank: Tank, sent: SentTable) -> HttpResponse:
    """Let a job of a name do it, and lead to its page."""
    return redirect("job_page", put_down_table(name, tank=tank, sent=sent, by=request.user).key)


def _add(request: HttpRequest, tank: Tank, form: HistoryForm, sent: SentTable) -> HttpResponse:
    """Add what is new; lines that can't be read yet stay on the page until they are dealt with."""
    text, answers = sent.text, sent.answers
    table = read_to_add(tank=tank, text=text, answers=answers)
    try:
        added, history = import_history(tank=tank, table=table, by=request.user, source=sent.source)
    except ValidationError as problem:
        messages.error(request, f"Nothing was added: {' '.join(problem.messages)}")
        history = read_history(text, tank=tank, answers=answers)
        return _page(request, tank, _again(form), shown=preview(history, tank), status=422)
    if added is None:
        messages.info(request, "Nothing of it is new, so nothing was added.")
    else:
        words = f"Added {added.in_words()}."
        offer_undo(request, words, reverse("history_import_remove", args=[added.pk]))
    if history.bad or history.waiting:
        left = read_history(text, tank=tank, answers=answers)
        return _page(request, tank, _again(form), shown=preview(left, tank))
    return redirect("history_import", tank.pk)


def _sent_before(request: HttpRequest, tank: Tank, job: Job, sent: SentTable) -> HttpResponse:
    """Show a table that was sent before, with what was said of it then."""
    if not job.has_ended:
        return redirect("job_page", job.key)
    said, shown = sent.answers, sent.preview
    form = HistoryForm(
        initial={"text": sent.text, "source": sent.source, "dates": said.dates}
        | {"unit": said.length_unit}
    )
    if job.name == ADD and sent.is_long_to_read:
        return redirect("job_page", check_again(job, sent).key)
    if job.name == ADD:
        try:
            shown = preview(read_history(sent.text, tank=tank, answers=said), tank)
        except UnreadableTable as problem:
            messages.error(request, str(problem))
    elif job.problem:
        messages.error(request, job.problem)
    return _page(
        request,
        tank,
        form,
        shown=shown,
        sheet_words=sent.sheet_words,
        names_rest=said.names_rest,
    )


def _again(form: HistoryForm) -> HistoryForm:
    """Return the form with the whole table in its box, and the answers beside it."""
    data = {name: form.cleaned_data[name] for name in ("dates", "unit")}
    return HistoryForm(
        initial=data | {"text": form.whole_text(), "source": form.source_name(), "file": None}
    )


def _page(
    request: HttpRequest,
    tank: Tank,
    form: HistoryForm,
    *,
    shown: Mapping[str, object] | None = None,
    status: int = 200,
    sheet_words: str = "",
    names_rest: str | None = None,
) -> HttpResponse:
    context = {
        "tank": tank,
        "form": form,
        "sheet_words": sheet_words,
        "most_lines": IMPORT_LINES_MAX,
        "sent_back": request.method == "POST" or bool(shown),
        "imports": _imports(tank),
    }
    if shown:
        context |= {
            "shown": shown,
            "answers": form_answers(request) if names_rest is None else {"names_rest": names_rest},
            "roles": ROLES,
            "water_prefix": WATER,
            "new_choices": [(f"{NEW}{g.value}", f"new: {g.label}") for g in Coral.Group],
            "out": OUT,
            "living": sorted(tank.corals.present(), key=lambda coral: coral.name.casefold()),
            "signs": HealthNote.Seen.choices,
            "conditions": HealthNote.Condition.choices,
        }
    return render(request, PAGE, context, status=status)


def form_answers(request: HttpRequest) -> dict[str, str]:
    return {"names_rest": request.POST.get("names_rest", "")}


def _imports(tank: Tank) -> list[HistoryImport]:
    """Return a tank's latest imports of history, newest first."""
    return list(tank.history_imports.present().select_related("created_by")[:IMPORTS_SHOWN])
