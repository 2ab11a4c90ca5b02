"""Bringing a tank's history in from a spreadsheet: look at it, answer what it asks, add it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from apps.common.removal import offer_undo
from apps.common.tables.reading import UnreadableTable
from apps.corals.history.columns import ROLES, WATER
from apps.corals.history.forms import HistoryForm
from apps.corals.history.large import SentTable, put_down_table, sent_table
from apps.corals.history.naming import NEW, OUT
from apps.corals.history.preview import preview
from apps.corals.history.reading import ReadHistory, read_history
from apps.corals.history.recording import import_history
from apps.corals.history_models import HistoryImport
from apps.corals.models import Coral, HealthNote
from apps.photics.limits import IMPORT_LINES_MAX
from apps.tanks.access import writable_tank
from apps.tanks.models import Tank

PAGE = "corals/history/history_import.html"
IMPORTS_SHOWN = 20


@login_required
def history_import(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = writable_tank(request.user, tank_pk)
    if request.method != "POST":
        sent = sent_table(request.GET.get("sent", ""), tank=tank, by=request.user)
        if sent is not None:
            return _sent_before(request, tank, sent)
        return _page(request, tank, HistoryForm(initial={"unit": request.user.units}))
    form = HistoryForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, tank, form, status=422)
    try:
        if "add" in request.POST:
            return _add(request, tank, form)
        history = read_history(form.whole_text(), tank=tank, answers=form.answers())
    except UnreadableTable as problem:
        form.add_error(form.table_field(), str(problem))
        return _page(request, tank, form, status=422)
    return _page(request, tank, _again(form), history=history, sheet_words=form.sheet_words())


def _add(request: HttpRequest, tank: Tank, form: HistoryForm) -> HttpResponse:
    """Add what is new; lines that can't be read yet stay on the page until they are dealt with."""
    text, answers = form.whole_text(), form.answers()
    sent = SentTable(text, answers, form.source_name())
    if sent.is_large:
        return redirect("job_page", put_down_table(tank=tank, sent=sent, by=request.user).key)
    try:
        added, history = import_history(
            tank=tank, text=text, answers=answers, by=request.user, source=form.source_name()
        )
    except ValidationError as problem:
        messages.error(request, f"Nothing was added: {' '.join(problem.messages)}")
        history = read_history(text, tank=tank, answers=answers)
        return _page(request, tank, _again(form), history=history, status=422)
    if added is None:
        messages.info(request, "Nothing of it is new, so nothing was added.")
    else:
        words = f"Added {added.in_words()}."
        offer_undo(request, words, reverse("history_import_remove", args=[added.pk]))
    if history.bad or history.waiting:
        left = read_history(text, tank=tank, answers=answers)
        return _page(request, tank, _again(form), history=left)
    return redirect("history_import", tank.pk)


def _sent_before(request: HttpRequest, tank: Tank, sent: SentTable) -> HttpResponse:
    """Show a table that was sent before, with what was said of it then."""
    said = sent.answers
    form = HistoryForm(
        initial={"text": sent.text, "source": sent.source, "dates": said.dates}
        | {"unit": said.length_unit}
    )
    try:
        history = read_history(sent.text, tank=tank, answers=said)
    except UnreadableTable as problem:
        messages.error(request, str(problem))
        history = None
    return _page(request, tank, form, history=history, names_rest=said.names_rest)


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
    history: ReadHistory | None = None,
    status: int = 200,
    sheet_words: str = "",
    names_rest: str | None = None,
) -> HttpResponse:
    context = {
        "tank": tank,
        "form": form,
        "sheet_words": sheet_words,
        "most_lines": IMPORT_LINES_MAX,
        "sent_back": request.method == "POST",
        "imports": _imports(tank),
    }
    if history:
        context |= preview(history, tank) | {
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
