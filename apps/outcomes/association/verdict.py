"""The three answers of one question made one verdict, by stated rules."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.outcomes.association.comparison import Comparison
from apps.outcomes.association.events import Direction
from apps.outcomes.association.weighing import STATES, Weighed
from apps.photics.causes.association import ELSEWHERE, ENOUGH, POINTS, UNSURE, Association
from apps.photics.causes.counts_and_ranks import benjamini_hochberg

# A finding counts when it is still below this once everything shown is allowed for. House rule.
Q_CLAIM = 0.05


@dataclass(frozen=True)
class Judgement:
    """One question's verdict: across corals, within each coral's own time, and both together."""

    direction: Direction
    verdict: str
    reason: str
    across: Comparison
    within: Weighed
    across_q: float | None
    within_q: float | None
    looks: int  # p-values that were allowed for

    @property
    def state(self) -> str:
        return STATES[self.verdict]


def judge(comparisons: Sequence[Comparison], weighed: Sequence[Weighed]) -> tuple[Judgement, ...]:
    """Return a Judgement for each Weighed, with the Comparison of its direction beside it."""
    pairs = [
        (next(c for c in comparisons if c.direction is result.direction), result)
        for result in weighed
    ]
    p_values = []
    for across, within in pairs:
        test = across.for_band if claims(across) else None
        p_values.append(test.p_value if test else float("nan"))
        p_values.append(within.association.p_value)
    q_values = [None if q != q else float(q) for q in benjamini_hochberg(p_values)]
    looks = sum(q is not None for q in q_values)
    result = []
    for k, (across, within) in enumerate(pairs):
        across_q, within_q = q_values[2 * k : 2 * k + 2]
        verdict, reason = joined(across, within.association, across_q, within_q)
        result.append(
            Judgement(within.direction, verdict, reason, across, within, across_q, within_q, looks)
        )
    return tuple(result)


def claims(comparison: Comparison) -> bool:
    """Tell whether a comparison across corals rests on enough of them to count at all."""
    return comparison.verdict in ("unclear", "fits", "against")


def joined(
    across: Comparison, association: Association, across_q: float | None, within_q: float | None
) -> tuple[str, str]:
    """Return (verdict, reason). The order of the rules is the rule."""
    beside = across.verdict if across_q is not None and across_q < Q_CLAIM else ""
    within, reason = association.verdict, association.reason
    # A verdict that claims something rests on a p-value, and so has a q.
    if within in (ENOUGH, POINTS) and within_q is not None and within_q >= Q_CLAIM:
        return UNSURE, (
            "One comparison alone would point to light, but not once all that are shown here are "
            f"allowed for. {reason}"
        )
    if within in (POINTS, ELSEWHERE) and beside == {POINTS: "against", ELSEWHERE: "fits"}[within]:
        return UNSURE, (
            f"The two comparisons disagree. In each coral’s own time: {lowered(reason)} But "
            "across the corals it is the other way round."
        )
    if within == ENOUGH and beside == "against":
        return POINTS, f"{reason} Across the corals it is the other way round, so it is not enough."
    if within == UNSURE and beside == "fits":
        side = "brighter" if across.direction is Direction.LIGHTER else "dimmer"
        return POINTS, (
            f"The corals with it sit in {side} light for their bands than the others. In each "
            f"coral’s own time: {lowered(reason)}"
        )
    return within, reason


def lowered(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
