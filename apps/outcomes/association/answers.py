"""What all notes of a tank answer: each question's verdict with its numbers and drawings."""

from dataclasses import dataclass

from apps.drawing.even_line import EvenLine, odds_line, share_line
from apps.drawing.response_curve import Curve, LagStrip, draw_curve, draw_lags
from apps.outcomes.association.answer_words import comes_to, means
from apps.outcomes.association.correlation import Outcomes
from apps.outcomes.association.events import Direction
from apps.outcomes.association.next_evidence import NextEvidence, exposures_on, next_evidence
from apps.outcomes.association.strip import CORALS_MAX, Strip, draw_strip
from apps.outcomes.association.verdict import Judgement, claims, judge
from apps.outcomes.association.weighing import weigh_book


@dataclass(frozen=True)
class Answer:
    """One question's verdict with its drawings and the next evidence."""

    judged: Judgement
    odds: EvenLine | None  # of the event, the light in question doubled or halved
    curve: Curve | None
    lags: LagStrip | None
    strip: Strip | None
    next_evidence: NextEvidence

    @property
    def comes_to(self) -> str:
        """What the notes come to, a clause that goes on from the verdict."""
        return comes_to(self.judged)

    @property
    def means(self) -> str:
        """What that means for the keeper."""
        return means(self.judged)

    @property
    def pairs(self) -> float | None:
        """Of all pairs of a coral with the event and one without, in how many the light fits [1].

        By chance it would be a half. None where too few corals can be compared.
        """
        test = self.judged.across.for_band
        if test is None or not claims(self.judged.across):
            return None
        return test.effect if self.judged.direction is Direction.LIGHTER else 1 - test.effect

    @property
    def pairs_line(self) -> EvenLine | None:
        """Return where those pairs lie, even in the middle."""
        return None if self.pairs is None else share_line(self.pairs)


def answers_of(outcomes: Outcomes, *, drawn: int = CORALS_MAX) -> list[Answer]:
    """Return the Answers of a tank's Outcomes, paling first; at most `drawn` corals in a strip."""
    book, today = outcomes.book, outcomes.book.tank.today()
    judgements = judge(outcomes.comparisons, weigh_book(book))
    now = exposures_on(book, today) if judgements else {}
    return [
        Answer(
            judged,
            odds_of(judged),
            draw_curve(judged.within.response),
            draw_lags(judged.within.lags),
            draw_strip(judged.across.corals, most=drawn),
            next_evidence(book, outcomes.events, judged.direction, today, now),
        )
        for judged in judgements
    ]


def odds_of(judged: Judgement) -> EvenLine | None:
    """Return the EvenLine of a Judgement within each coral's own time."""
    result = judged.within.association
    return odds_line(result.ratio_per_doubling, low=result.low, high=result.high)
