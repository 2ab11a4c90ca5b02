"""A short list of different good layouts: those no other beats in everything that counts."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from apps.photics.layout.choice import price_of, used_of
from apps.photics.layout.hanging import Layout
from apps.photics.layout.score import NOTHING, SERVED, Score, Scorer, lit_watts
from apps.photics.layout.search import Rated
from apps.photics.layout.shortlist import cost_of
from apps.photics.layout.softness import hardness

# Chosen, because more can't be compared on one page.
MOST_ANSWERS = 5
# An answer may serve the zones this much worse than the best when it wins elsewhere [1]: chosen, so
# that a cheap or soft layout is still shown beside the best.
WORSE_MOST = 0.25
# Layouts nearer than this in everything are one [1]: chosen, because no keeper would see it.
ALIKE = 0.02
# Two answers of like cost [1] whose shares, shadows and levels lie nearer than this are near-ties,
# and one of them is enough: chosen, because a choice between them is none.
LIKE_COST, NEAR_TIE = 0.05, 0.08
# A highest level up to here leaves room to grow [1]: chosen, because a third more light is a real
# step for a coral.
ROOMY = 0.75
# What an answer may be best at, in the order they are picked.
BEST, MONEY, SOFT, ROOM, KEEPS, POWER = "best", "money", "soft", "room", "keeps", "power"
PICKED = (BEST, MONEY, SOFT, ROOM, KEEPS, POWER)

# A layout with its objective, and what it gives.
Scored = tuple[Rated, Score]


@dataclass(frozen=True)
class Answer:
    """A layout, what it gives, and the names of PICKED it is best at, () for none of them."""

    layout: Layout
    score: Score
    best_at: tuple[str, ...]


def answers(scorer: Scorer, rated: Iterable[Rated]) -> tuple[Answer, ...]:
    """Return the Answers from Rated layouts, best objective first; () from none."""
    hung = [one for one in dict.fromkeys(rated) if one.value > NOTHING]
    known = [(one, scorer.score(one.layout)) for one in hung]
    if not known:
        return ()
    known.sort(key=lambda pair: -pair[0].value)
    served = weighted(scorer, known[0][1])
    near = [pair for pair in known if weighted(scorer, pair[1]) >= served - WORSE_MOST]
    kept = [pair for pair in near if not any(beats(scorer, other, pair) for other in near)]
    serving = [pair for pair in kept if min(pair[1].zone_shares) >= SERVED] or kept
    best_at: dict[Rated, list[str]] = {}
    for name, key in merits(scorer).items():
        values = [key(pair) for pair in serving]
        if name == ROOM and min(values) > ROOMY:
            continue
        if name == BEST or min(values) < max(values):
            best_at.setdefault(serving[values.index(min(values))][0], []).append(name)
    order = sorted(best_at, key=lambda one: PICKED.index(best_at[one][0]))
    scores = dict(kept)
    order = without_ties(scorer, [*order, *(one for one, _ in kept if one not in best_at)], scores)
    listed = [
        Answer(one.layout, scores[one], tuple(best_at.get(one, ()))) for one in order[:MOST_ANSWERS]
    ]
    return tuple(sorted(listed, key=lambda answer: -answer.score.objective))


def without_ties(scorer: Scorer, order: Sequence[Rated], scores: dict[Rated, Score]) -> list[Rated]:
    """Return layouts in order, without those that are near-ties of an earlier one."""
    kept: list[Rated] = []
    for one in order:
        if not any(are_near_ties(scorer, (one, scores[one]), (k, scores[k])) for k in kept):
            kept.append(one)
    return kept


def are_near_ties(scorer: Scorer, one: Scored, other: Scored) -> bool:
    """Return whether two layouts cost alike, serve alike, and are as soft and as far turned up."""
    question = scorer.question
    costs = sorted(cost_of(question, pair[0].layout.choice) for pair in (one, other))
    if costs[0] < (1.0 - LIKE_COST) * costs[1]:
        return False
    if used_of(question, one[0].layout.choice) != used_of(question, other[0].layout.choice):
        return False
    marks = [
        (min(pair[1].zone_shares), hardness(question, pair[0].layout), max(pair[0].layout.levels))
        for pair in (one, other)
    ]
    return all(abs(a - b) < NEAR_TIE for a, b in zip(*marks, strict=True))


def merits(scorer: Scorer) -> dict[str, Callable[[Scored], float]]:
    """Return for each of PICKED, in order, what is least for the layout that is best at it.

    Each in a unit of its own: objective, hardness and levels [1], money, counts, or watts.
    """
    question = scorer.question
    return {
        BEST: lambda pair: -pair[0].value,
        MONEY: lambda pair: cost_of(question, pair[0].layout.choice),
        SOFT: lambda pair: hardness(question, pair[0].layout),
        ROOM: lambda pair: max(pair[0].layout.levels),
        KEEPS: lambda pair: -used_of(question, pair[0].layout.choice),
        POWER: lambda pair: power(scorer, pair),
    }


def weighted(scorer: Scorer, score: Score) -> float:
    """Return the share of all zones in band, by their weights [1]."""
    return float(scorer.weight @ score.zone_shares)


def power(scorer: Scorer, pair: Scored) -> float:
    """Return what a layout burns [W], or its share of all allowed where watts are unknown [1]."""
    layout = pair[0].layout
    watts = lit_watts(scorer.question, layout)
    return watts if watts is not None else scorer.power(layout)


def virtues(scorer: Scorer, pair: Scored) -> tuple[float, ...]:
    """Return what counts of a layout, more being better, eight numbers near 0 to 1 [1].

    Which eight is our own choice.
    """
    rated, score = pair
    question, layout = scorer.question, rated.layout
    many = question.limits.count + question.limits.fill_count
    dearest = max((one.price or 0.0) for one in question.candidates) * many
    price = price_of(question, layout.choice)
    money = layout.choice.count / many if price is None or not dearest else price / dearest
    return (
        weighted(scorer, score), min(score.zone_shares), score.evenness, 1.0 - score.light_lost,
        1.0 - scorer.power(layout), 1.0 - money, 1.0 - hardness(question, layout),
        used_of(question, layout.choice) / many,
    )  # fmt: skip


def beats(scorer: Scorer, one: Scored, other: Scored) -> bool:
    """Return whether one layout is as good as another in everything and better in something."""
    if one is other:
        return False
    gains = [a - b for a, b in zip(virtues(scorer, one), virtues(scorer, other), strict=True)]
    if min(gains) < -ALIKE:
        return False
    return max(gains) > ALIKE or one[0].value > other[0].value
