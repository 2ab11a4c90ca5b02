from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify

from apps.common.htmx import render_part
from apps.drawing.response_curve import Curve, LagStrip, draw_curve, draw_lags
from apps.outcomes.association.calendar import event_timeline, tank_calendar
from apps.outcomes.association.comparison import EVENTS_MIN, P_CLAIM
from apps.outcomes.association.competing_causes import SHOWS_DAYS
from apps.outcomes.association.correlation import BEFORE_DAYS, LOOKBACK_DAYS, tank_outcomes
from apps.outcomes.association.event_list import (
    REPORT_EVENTS,
    event_stretch,
    events_within,
    nearest,
    unhappy_first,
)
from apps.outcomes.association.events import EPISODE_DAYS, TOGETHER_DAYS
from apps.outcomes.association.exporting import comparison_csv, exposure_csv
from apps.outcomes.association.next_evidence import NextEvidence, exposures_on, next_evidence
from apps.outcomes.association.strip import draw_strip
from apps.outcomes.association.verdict import Q_CLAIM, Judgement, judge
from apps.outcomes.association.weighing import weigh_book
from apps.photics.causes.exposure import TIME_CONSTANT_DAYS
from apps.tanks.access import readable_tank
from apps.tanks.kept_pages.pages import kept_page

# Rows of the tables on an event's page; a tank may hold hundreds of corals and events.
NEIGHBOURS_MAX, SIMILAR_MAX = 20, 10
# What "How was this computed" gives.
RULES = {
    "before_days": BEFORE_DAYS,
    "lookback_days": LOOKBACK_DAYS,
    "episode_days": EPISODE_DAYS,
    "together_days": TOGETHER_DAYS,
    "cause_days": SHOWS_DAYS,
    "acclimated_days": TIME_CONSTANT_DAYS,
    "events_min": EVENTS_MIN,
    "p_claim": P_CLAIM,
    "q_claim": Q_CLAIM,
}


@dataclass(frozen=True)
class Answer:
    """One question's verdict with its drawings and the next evidence."""

    judged: Judgement
    curve: Curve | None
    lags: LagStrip | None
    next_evidence: NextEvidence


def answers_of(outcomes):
    """Return the Answers of a tank's Outcomes, paling first."""
    book, today = outcomes.book, outcomes.book.tank.today()
    judgements = judge(outcomes.comparisons, weigh_book(book))
    now = exposures_on(book, today) if judgements else {}
    return [
        Answer(
            judged,
            draw_curve(judged.within.response),
            draw_lags(judged.within.lags),
            next_evidence(book, outcomes.events, judged.direction, today, now),
        )
        for judged in judgements
    ]


def list_context(tank, query):
    """Return what the page of all events and its report show of the stretch `query` names."""
    outcomes, now = tank_outcomes(tank), timezone.now()
    context = {"tank": tank, "outcomes": outcomes, "rules": RULES, "chosen": []}
    if not outcomes.events:
        return context
    book, events = outcomes.book, outcomes.events
    stretch = event_stretch(book, events, query, now=now)
    chosen = events_within(events, stretch.axis)
    return context | {
        "compared": [(c, draw_strip(c.corals)) for c in outcomes.comparisons if c.n_events],
        "stretch": stretch,
        "chosen": unhappy_first(chosen, book, tank.today()),
        "calendar": tank_calendar(book, chosen, outcomes.competing_causes, stretch.axis),
    }


@login_required
@kept_page(readable_tank)
def outcome_weighing(request, tank_pk):
    """Weigh the changes of light; on its own, since years of notes take a moment."""
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    context = {
        "tank": tank,
        "outcomes": outcomes,
        "answers": answers_of(outcomes),
        "rules": RULES,
    }
    page, part = (
        "outcomes/association/outcome_weighing.html",
        "outcomes/association/_outcome_weighing.html",
    )
    return render_part(request, page, part, context)


@login_required
@kept_page(readable_tank)
def outcome_report(request, tank_pk):
    """A digest to print, with every method open; the whole is in the CSVs."""
    context = list_context(readable_tank(request.user, tank_pk), request.GET)
    outcomes, printed = context["outcomes"], context["chosen"][:REPORT_EVENTS]
    context |= {
        "answers": answers_of(outcomes) if outcomes.events else [],
        "shown": [outcomes.exposed(event) for event in printed],
        "left_out": len(context["chosen"]) - len(printed),
        "outside": len(outcomes.events) - len(context["chosen"]),
        "printed_at": timezone.now(),
    }
    return render(request, "outcomes/association/outcome_report.html", context)


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
