"""Pages of a tank's events: one by itself, what all come to, and all as tables."""

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify

from apps.common.htmx import render_part
from apps.outcomes.association.calendar import event_timeline
from apps.outcomes.association.correlation import tank_outcomes
from apps.outcomes.association.event_list import nearest
from apps.outcomes.association.exporting import comparison_csv, exposure_csv
from apps.outcomes.association.page_contents import RULES, answer_context
from apps.tanks.access import readable_tank
from apps.tanks.kept_pages.pages import kept_page

# Rows of the tables on an event's page; a tank may hold hundreds of corals and events.
NEIGHBOURS_MAX, SIMILAR_MAX = 20, 10


@login_required
@kept_page(readable_tank)
def outcome_weighing(request, tank_pk):
    """Weigh the changes of light; on its own, since years of notes take a moment."""
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    context = {"tank": tank, "outcomes": outcomes, "rules": RULES, **answer_context(outcomes)}
    page, part = (
        "outcomes/association/outcome_weighing.html",
        "outcomes/association/_outcome_weighing.html",
    )
    return render_part(request, page, part, context)


@login_required
def outcome_export(request, tank_pk):
    """Every note's light; of a vast tank one part of its time, the newest by default."""
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    part = Paginator(outcomes.book.parts, 1).get_page(request.GET.get("part"))
    what = "outcomes" if part.number == 1 else f"outcomes-{part.number}"
    return as_file(exposure_csv(outcomes, part.object_list[0]), tank, what)


@login_required
def outcome_export_corals(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    return as_file(comparison_csv(tank_outcomes(tank)), tank, "corals-compared")


def as_file(text, tank, what):
    """Return CSV text as a file to keep, named after its tank."""
    answer = HttpResponse(text, content_type="text/csv; charset=utf-8")
    name = f"{slugify(tank.name) or 'tank'}-{what}.csv"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@login_required
@kept_page(readable_tank)
def outcome_detail(request, tank_pk, note_pk):
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    event = outcomes.event_with_note(note_pk)
    if event is None:
        raise Http404("No note of paling, bleaching or browning.")
    coral, like = outcomes.book.coral_by_pk[event.coral_pk], outcomes.like(event)
    result, everyone = outcomes.exposed(event), "all" in request.GET
    context = {
        "tank": tank,
        "coral": coral,
        "case": result,
        "neighbours": result.neighbours if everyone else result.neighbours[:NEIGHBOURS_MAX],
        "similar": [outcomes.exposed(other) for other in nearest(event, like, SIMILAR_MAX)],
        "similar_number": len(like),
        "timeline": event_timeline(outcomes.book, coral, event, now=timezone.now()),
        "missing": outcomes.missing,
        "rules": RULES,
    }
    return render(request, "outcomes/association/outcome_detail.html", context)
