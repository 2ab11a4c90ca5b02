"""The water log: readings, and what happened to the water and its animals."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.common.removal import offer_undo
from apps.common.tables.reading import UnreadableTable
from apps.corals.access import writable_water_event
from apps.corals.models import WaterEvent
from apps.corals.water.forms import UNITS, WaterEventForm, WaterImportForm
from apps.corals.water.importing import parse_events
from apps.corals.water.logging import add_water_events, new_water_events
from apps.photics.limits import IMPORT_LINES_MAX
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page

EVENTS_A_PAGE = 50
FIRST_LINES = 10
BAD_LINES_SHOWN = 100


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
        return import_page(request, tank, WaterImportForm())
    form = WaterImportForm(request.POST, request.FILES)
    if not form.is_valid():
        return import_page(request, tank, form, status=422)
    try:
        parsed = parse_events(
            form.whole_text(),
            tank=tank,
            first_number=form.first_number(),
            dates=form.cleaned_data["dates"],
        )
    except UnreadableTable as problem:
        form.add_error(form.table_field(), str(problem))
        return import_page(request, tank, form, status=422)
    if "import" in request.POST and parsed.thinned.events:
        return import_good(request, tank, parsed)
    sorted_out = {"text": parsed.good_text(), "bad": parsed.bad_text(), "dates": parsed.dates}
    words = form.sheet_words()
    form = WaterImportForm(initial=sorted_out)
    return import_page(request, tank, form, parsed=parsed, sheet_words=words)


def import_good(request, tank, parsed):
    """Save the good lines; the others stay on the page until they are dealt with."""
    events = parsed.thinned.events
    added = add_water_events(tank=tank, events=events, by=request.user)
    known = len(events) - added
    if parsed.bad:
        left = "\n".join(filter(None, [parsed.header, parsed.bad_text()]))
        form = WaterImportForm(initial={"text": left, "dates": parsed.dates})
        counts = {"added": added, "known": known, "left": len(parsed.bad)}
        return import_page(request, tank, form, counts=counts)
    text = f"Added {added} to the water log."
    text += f" {known} stood there already." if known else ""
    messages.success(request, text)
    return go_to(request, reverse("water_event_list", args=[tank.pk]))


def import_page(request, tank, form, *, status=200, parsed=None, counts=None, sheet_words=""):
    context = {
        "tank": tank,
        "form": form,
        "parsed": parsed,
        "counts": counts,
        "sheet_words": sheet_words,
        "most_lines": IMPORT_LINES_MAX,
        "sent_back": request.method == "POST",
    }
    if parsed:
        events = parsed.thinned.events
        new = new_water_events(tank, events)
        seen = {id(event) for event in new}
        context |= {
            "first_good": [(event, id(event) in seen) for event in events[:FIRST_LINES]],
            "kept_count": len(events),
            "new_count": len(new),
            "known_count": len(events) - len(new),
            "bad_shown": parsed.bad[:BAD_LINES_SHOWN],
            "bad_more": max(len(parsed.bad) - BAD_LINES_SHOWN, 0),
        }
    page, part = "corals/water/water_event_import.html", "corals/water/_water_event_import.html"
    with timezone.override(tank.zone):
        return render_part(request, page, part, context, status=status)
