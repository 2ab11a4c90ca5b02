"""What to buy first of an answer, and which fixtures of the question hang in none: in words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from apps.photics.layout.advice import left_out as why
from apps.photics.layout.advice.buying_steps import buying_steps
from apps.photics.layout.answers import Answer
from apps.planning.layout.forbidden import forbidding
from apps.planning.layout.searching import SearchedPlan

# A length [cm] as the reader's unit tells it, with the unit.
LengthText = Callable[[float], str]
LEFT_OUT_WORDS = {
    why.COUNT: "so few lamps may hang that it was not tried",
    why.BESIDE: "it finds no place beside the lamps it would go with",
    why.WORSE: "others do better",
}


@dataclass(frozen=True)
class Purchase:
    """One step of buying an answer: what, for how much, and the zones' shares in band then [%]."""

    name: str
    price: float | None
    total: float | None
    in_budget: bool
    shares_percent: tuple[float, ...]


def purchases(searched: SearchedPlan, answer: Answer) -> tuple[Purchase, ...]:
    """Return the steps in which an answer is best bought; none where one purchase does it."""
    steps = buying_steps(searched.search.scorer, answer.layout)
    if len(steps) < 2:
        return ()
    candidates = searched.stored.question.candidates
    return tuple(
        Purchase(
            name=candidates[step.candidate].name,
            price=step.price,
            total=step.total,
            in_budget=step.in_budget,
            shares_percent=tuple(100.0 * share for share in step.zone_shares),
        )
        for step in steps
    )


def left_out_words(
    searched: SearchedPlan, answers: Sequence[Answer], length: LengthText
) -> list[tuple[str, str]]:
    """Return (name, why) of each fixture of the question that hangs in no answer."""
    question = searched.stored.question
    forbidden = forbidding(question, length)
    rows = []
    for one in why.left_out(searched.search, [answer.layout for answer in answers]):
        name = question.candidates[one.candidate].name
        words = "; ".join(forbidden.get(name, ())) or LEFT_OUT_WORDS.get(one.reason, "")
        if words:
            rows.append((name, words))
    return rows
