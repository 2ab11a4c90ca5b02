"""What several pages show of a tank's notes: events over some time, answers, the rules of both."""

from typing import Any

from django.http import QueryDict
from django.utils import timezone

from apps.outcomes.association.answer_words import in_common, in_one_sentence
from apps.outcomes.association.answers import answers_of
from apps.outcomes.association.calendar import tank_calendar
from apps.outcomes.association.comparison import EVENTS_MIN, P_CLAIM
from apps.outcomes.association.competing_causes import SHOWS_DAYS
from apps.outcomes.association.correlation import (
    BEFORE_DAYS,
    LOOKBACK_DAYS,
    Outcomes,
    tank_outcomes,
)
from apps.outcomes.association.event_list import event_stretch, events_within, unhappy_first
from apps.outcomes.association.events import EPISODE_DAYS, TOGETHER_DAYS, Direction
from apps.outcomes.association.strip import CORALS_MAX
from apps.outcomes.association.verdict import Q_CLAIM
from apps.photics.causes.exposure import TIME_CONSTANT_DAYS
from apps.photics.causes.judgement import method_words
from apps.tanks.models import Tank

# What a template is given, by name.
Context = dict[str, Any]
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
    # Of the notes of one tank.
    "method": method_words(1),
}


def list_context(tank: Tank, query: QueryDict) -> Context:
    """Return what the page of all events and its report show of the stretch `query` names."""
    outcomes, now = tank_outcomes(tank), timezone.now()
    context: Context = {"tank": tank, "outcomes": outcomes, "rules": RULES, "chosen": []}
    if not outcomes.events:
        return context
    book, events = outcomes.book, outcomes.events
    stretch = event_stretch(book, events, query, now=now)
    chosen = events_within(events, stretch.axis)
    return context | {
        # Whether each question that arises will have numbers.
        "questions": [
            count >= EVENTS_MIN
            for kind in Direction
            if (count := sum(event.direction is kind for event in outcomes.weighed))
        ],
        "stretch": stretch,
        "chosen": unhappy_first(chosen, book, tank.today()),
        "calendar": tank_calendar(book, chosen, outcomes.competing_causes, stretch.axis),
    }


def answer_context(outcomes: Outcomes, *, drawn: int = CORALS_MAX) -> Context:
    """Return what all notes of a tank answer: in one sentence, and each question by itself.

    At most `drawn` corals stand side by side.
    """
    answers = answers_of(outcomes, drawn=drawn)
    judgements = [answer.judged for answer in answers]
    return {
        "answers": answers,
        "in_short": in_one_sentence(judgements),
        "in_common": in_common(judgements),
    }
