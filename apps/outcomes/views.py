from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify

from apps.common.htmx import render_part
from apps.outcomes.calendar import event_timeline, tank_calendar
from apps.outcomes.comparison import EVENTS_MIN, P_CLAIM
from apps.outcomes.correlation import BEFORE_DAYS, LOOKBACK_DAYS, tank_outcomes
from apps.outcomes.curve import Curve, LagStrip, draw_curve, draw_lags
from apps.outcomes.events import EPISODE_DAYS, TOGETHER_DAYS
from apps.outcomes.exporting import exposure_csv
from apps.outcomes.rivals import RIVAL_DAYS
from apps.outcomes.settling import Settling, settle
from apps.outcomes.strip import draw_strip
from apps.outcomes.verdict import Q_CLAIM, Judgement, judge
from apps.outcomes.weighing import weigh_book
from apps.photics.exposure import TIME_CONSTANT_DAYS
from apps.tanks.access import readable_tank

# The newest; more only on demand, since a large tank has hundreds.
EVENTS_SHOWN = 20
# What "How was this computed" tells of.
RULES = {
    "before_days": BEFORE_DAYS,
    "lookback_days": LOOKBACK_DAYS,
    "episode_days": EPISODE_DAYS,
    "together_days": TOGETHER_DAYS,
    "rival_days": RIVAL_DAYS,
    "used_to_days": TIME_CONSTANT_DAYS,
    "events_min": EVENTS_MIN,
    "p_claim": P_CLAIM,
    "q_claim": Q_CLAIM,
}


@dataclass(frozen=True)
class Answer:
    """One question's verdict with its drawings and what would settle it."""

    judged: Judgement
    curve: Curve | None
    lags: LagStrip | None
    settling: Settling


def answers_of(outcomes):
    """Return the Answers of a tank's Outcomes, paling first."""
    events = [found.event for found in outcomes.events]
    today = outcomes.book.tank.today()
    return [
        Answer(
            judged,
            draw_curve(judged.within.response),
            draw_lags(judged.within.lags),
            settle(outcomes.book, events, judged.direction, today),
        )
        for judged in judge(outcomes.comparisons, weigh_book(outcomes.book))
    ]


@login_required
def outcome_list(request, tank_pk):
    context = list_context(readable_tank(request.user, tank_pk))
    events = context["outcomes"].events
    shown = events if "all" in request.GET else events[:EVENTS_SHOWN]
    return render(request, "outcomes/outcome_list.html", context | {"shown": shown})


def list_context(tank):
    """Return what the tank's page and its report both show."""
    outcomes = tank_outcomes(tank)
    events = [found.event for found in outcomes.events]
    return {
        "tank": tank,
        "outcomes": outcomes,
        "compared": [(c, draw_strip(c.corals)) for c in outcomes.comparisons if c.n_events],
        "calendar": tank_calendar(outcomes.book, events, outcomes.rivals, now=timezone.now()),
        "rules": RULES,
    }


@login_required
def outcome_weighing(request, tank_pk):
    """Weigh the changes of light; on its own, since years of notes take a moment."""
    tank = readable_tank(request.user, tank_pk)
    context = {"tank": tank, "answers": answers_of(tank_outcomes(tank)), "rules": RULES}
    page, part = "outcomes/outcome_weighing.html", "outcomes/_outcome_weighing.html"
    return render_part(request, page, part, context)


@login_required
def outcome_report(request, tank_pk):
    """Everything on one page to print, with every method open."""
    context = list_context(readable_tank(request.user, tank_pk))
    context |= {"answers": answers_of(context["outcomes"]), "printed_at": timezone.now()}
    return render(request, "outcomes/outcome_report.html", context)


@login_required
def outcome_export(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    answer = HttpResponse(exposure_csv(tank_outcomes(tank)), content_type="text/csv; charset=utf-8")
    name = f"{slugify(tank.name) or 'tank'}-outcomes.csv"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@login_required
def outcome_detail(request, tank_pk, note_pk):
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    found = outcomes.event_with_note(note_pk)
    if found is None:
        raise Http404("No note of paling, bleaching or browning.")
    coral = next(c for c in outcomes.book.corals if c.pk == found.event.coral_pk)
    context = {
        "tank": tank,
        "coral": coral,
        "found": found,
        "similar": outcomes.like(found),
        "timeline": event_timeline(outcomes.book, coral, found.event, now=timezone.now()),
        "missing": outcomes.missing,
        "rules": RULES,
    }
    return render(request, "outcomes/outcome_detail.html", context)
