"""What a tank's own notes can prove of a sign, in one sentence: the verdict without its figures."""

from dataclasses import dataclass

from apps.corals.models import Coral
from apps.outcomes.association.correlation import tank_outcomes
from apps.outcomes.association.events import Direction
from apps.outcomes.association.verdict import Judgement, judge
from apps.outcomes.association.weighing import weigh_book
from apps.outcomes.case.case_facts import Sign
from apps.outcomes.case.trouble import trouble_of
from apps.photics.causes.association import ELSEWHERE, ENOUGH, POINTS, UNSURE

DIRECTIONS = {Sign.LIGHTER: Direction.LIGHTER, Sign.DARKER: Direction.DARKER}
WORDS = {
    Direction.LIGHTER: ("paling or bleaching", "more"),
    Direction.DARKER: ("browning", "less"),
}
NOT_WEIGHED = "Only paling, bleaching and browning can be weighed against the light."
TOO_NEW = "This tank’s notes of it are too new to be weighed."


@dataclass(frozen=True)
class Proof:
    """What all notes of a tank add to a case: its state, and one sentence."""

    state: str
    sentence: str
    is_weighed: bool = True


def proof_of(coral: Coral) -> Proof | None:
    """Return the Proof of what troubles a coral, None where nothing ever did.

    It weighs all notes of the tank, which is kept.
    """
    outcomes = tank_outcomes(coral.tank)
    trouble = trouble_of(outcomes.book.coral_by_pk[coral.pk])
    if trouble is None:
        return None
    direction = DIRECTIONS.get(trouble.sign)
    if direction is None:
        return Proof("unknown", NOT_WEIGHED, is_weighed=False)
    judgements = judge(outcomes.comparisons, weigh_book(outcomes.book))
    judged = next((j for j in judgements if j.direction is direction), None)
    if judged is None:
        return Proof("unknown", TOO_NEW)
    return Proof(judged.state, proof_words(judged))


def times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def proof_words(judged: Judgement) -> str:
    """Return what a Judgement amounts to, without a figure of statistics."""
    seen, way = WORDS[judged.direction]
    within = judged.within
    events = within.association.n_events
    basis = (
        f"{seen} {times(events)} in {within.n_visits} note{'' if within.n_visits == 1 else 's'} of "
        f"{within.n_corals} coral{'' if within.n_corals == 1 else 's'}"
    )
    sentences = {
        ENOUGH: f"This tank’s notes point to {way} light often enough to act on",
        POINTS: f"This tank’s notes lean towards {way} light, but don’t settle it",
        ELSEWHERE: "This tank’s notes point away from the light",
        UNSURE: "This tank’s notes can’t settle it yet",
    }
    return f"{sentences[judged.verdict]}: {basis}."
