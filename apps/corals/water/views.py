"""The water log: readings, and what happened to the water and its animals."""

from dataclasses import replace

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.common.removal import offer_undo
from apps.common.tables.reading import UnreadableTable, table_lines
from apps.corals.access import writable_water_event
from apps.corals.models import WaterEvent
from apps.corals.water.forms import UNITS, WaterEventForm, WaterImportForm
from apps.corals.water.large import (
    ADD,
    CHECK,
    SentLines,
    added_words,
    left_of,
    preview,
    put_down_lines,
    sent_before,
    with_moments,
)
from apps.corals.water.logging import add_water_events
from apps.photics.limits import IMPORT_LINES_MAX
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page

EVENTS_A_PAGE = 20


@login_required
@kept_page(readable_tank)
def water_event_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    events, kind = tank.water_events.present(), request.GET.get("kind", "")
    kinds_there = set(events.order_by().values_list("kind", flat=True).distinct())
    if kind == "hurt":
        events = events.could_hurt()
    elif kind in WaterEvent.Kind:
        events = events.filter(kind=kind)
    context = {
        "tank": tank,
        "kind": kind,
        "kinds": [kind for kind in WaterEvent.Kind if kind in kinds_there],
        "page": Paginator(events, EVENTS_A_PAGE).get_page(request.GET.get("page")),
        "may_write": may_write(request.user, tank),
    }
    with timezone.override(tank.zone):
        return render(request, "corals/water/water_event_list.html", context)


@login_required
@once()
def water_event_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    event = WaterEvent(tank=tank, created_by=request.user, happened_at=timezone.now())
    # A page that asks for a test may say of what; the keeper decides.
    if request.GET.get("kind") in WaterEvent.Kind.values:
        event.kind = request.GET["kind"]
    return edit_water_event(request, tank, event)


@login_required
def water_event_edit(request, pk):
    event = writable_water_event(request.user, pk)
    return edit_water_event(request, event.tank, event)


def edit_water_event(request, tank, event):
    """Show or save the form of an event that already carries its tank."""
    with timezone.override(tank.zone):
        form = WaterEventForm(request.POST or None, instance=event)
        if request.method == "POST" and form.is_valid():
            is_new = event.pk is None
            saved = form.save()
            text = f"Saved “{saved.in_words()}”."
            if is_new:
                offer_undo(request, text, reverse("water_event_remove", args=[saved.pk]))
            else:
                messages.success(request, text)
            return redirect("water_event_list", tank.pk)
        context = {"tank": tank, "form": form, "units": UNITS}
        status = 422 if request.method == "POST" else 200
        return render(request, "corals/water/water_event_form.html", context, status=status)


@login_required
def water_event_import(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    if request.method != "POST":
        if before := sent_before(request.GET.get("sent", ""), tank=tank, by=request.user):
            return show_sent(request, tank, *before)
        return import_page(request, tank, WaterImportForm())
    form = WaterImportForm(request.POST, request.FILES)
    if not form.is_valid():
        return import_page(request, tank, form, status=422)
    sent = SentLines(
        form.whole_text(), form.first_number(), form.cleaned_data["dates"], form.sheet_words()
    )
    is_adding = "import" in request.POST
    try:
        table_lines(sent.text)
        if sent.is_long(to_add=is_adding):
            job = put_down_lines(ADD if is_adding else CHECK, tank=tank, sent=sent, by=request.user)
            return go_to(request, reverse("job_page", args=[job.key]))
        parsed = sent.parsed(tank)
    except UnreadableTable as problem:
        form.add_error(form.table_field(), str(problem))
        return import_page(request, tank, form, status=422)
    if is_adding and parsed.thinned.events:
        return import_good(request, tank, parsed)
    return show_read(request, tank, replace(sent, preview=preview(parsed, tank)))


def show_sent(request, tank, job, sent):
    """Show lines that were sent before: as they were read, or those that are left of them."""
    if not job.has_ended:
        return redirect("job_page", job.key)
    if sent.preview:
        return show_read(request, tank, sent)
    if job.problem:
        messages.error(request, job.problem)
    return show_lines(request, tank, sent)


def show_read(request, tank, sent):
    """Show what was read of lines, before anything of it is added."""
    shown = with_moments(sent.preview)
    sorted_out = {"text": shown["text"], "bad": shown["bad_text"], "dates": shown["dates"]}
    form = WaterImportForm(initial=sorted_out)
    return import_page(request, tank, form, shown=shown, sheet_words=sent.sheet_words)


def show_lines(request, tank, sent):
    """Show lines to be mended in the box."""
    form = WaterImportForm(initial={"text": sent.text, "dates": sent.dates})
    return import_page(request, tank, form, counts=sent.counts)


def import_good(request, tank, parsed):
    """Save the good lines; the others stay on the page until they are dealt with."""
    added = add_water_events(tank=tank, events=parsed.thinned.events, by=request.user)
    left = left_of(parsed, added=added)
    if parsed.bad:
        return show_lines(request, tank, left)
    messages.success(request, added_words(left.counts))
    return go_to(request, reverse("water_event_list", args=[tank.pk]))


def import_page(request, tank, form, *, status=200, shown=None, counts=None, sheet_words=""):
    context = {
        "tank": tank,
        "form": form,
        "shown": shown,
        "counts": counts,
        "sheet_words": sheet_words,
        "most_lines": IMPORT_LINES_MAX,
        "sent_back": request.method == "POST" or bool(shown or counts),
        "bad_shown": shown and shown["bad_shown"],
        "bad_more": shown and shown["bad_more"],
    }
    page, part = "corals/water/water_event_import.html", "corals/water/_water_event_import.html"
    with timezone.override(tank.zone):
        return render_part(request, page, part, context, status=status)
