"""What a tank's own notes can prove of a sign, in plain words: the verdict without its figures."""

from dataclasses import dataclass

from django.utils.text import capfirst

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
# Beside a rule of thumb that leans one way, "cannot tell" reads like a second opinion.
NOTHING_PROVEN = "not proven"
NOT_WEIGHED = "Only paling, bleaching and browning are weighed against the light of all corals."


@dataclass(frozen=True)
class Proof:
    """A verdict's word with its shape, and one sentence."""

    verdict: str
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
        return Proof("not weighed", "unknown", NOT_WEIGHED, is_weighed=False)
    judgements = judge(outcomes.comparisons, weigh_book(outcomes.book))
    judged = next((j for j in judgements if j.direction is direction), None)
    if judged is None:
        return Proof(NOTHING_PROVEN, "unknown", "No note of it is old enough to be weighed.")
    verdict = NOTHING_PROVEN if judged.verdict == UNSURE else judged.verdict
    return Proof(verdict, judged.state, proof_words(judged))


def times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def proof_words(judged: Judgement) -> str:
    """Return what a Judgement amounts to, without a figure of statistics."""
    seen, way = WORDS[judged.direction]
    within = judged.within
    events = within.association.n_events
    basis = (
        f"{capfirst(seen)} {times(events)} in {within.n_visits} "
        f"note{'' if within.n_visits == 1 else 's'} of {within.n_corals} "
        f"coral{'' if within.n_corals == 1 else 's'}"
    )
    sentences = {
        ENOUGH: f"{basis}: after {way} light so often that it is worth acting on.",
        POINTS: f"{basis}: they lean towards {way} light, but do not convince.",
        ELSEWHERE: f"{basis}: they point away from the light.",
        UNSURE: f"{basis}: too little to tell.",
    }
    return sentences[judged.verdict]
