"""A short list of different good layouts: those no other beats in everything that counts."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from apps.photics.layout.hanging import Layout
from apps.photics.layout.score import Score, Scorer, lit_watts
from apps.photics.layout.search import Rated
from apps.photics.layout.softness import hardness

# Chosen, because more can't be compared on one page.
MOST_ANSWERS = 5
# An answer may serve the zones this much worse than the best when it wins elsewhere [1]: chosen, so
# that a cheap or soft layout is still shown beside the best.
WORSE_MOST = 0.25
# Layouts nearer than this in everything are one [1]: chosen, because no keeper would see it.
ALIKE = 0.02
# What an answer may be best at, in the order they are picked.
BEST, SOFT, FEWEST, POWER, EVEN, RIM = "best", "soft", "fewest", "power", "even", "rim"
PICKED = (BEST, SOFT, FEWEST, POWER, EVEN, RIM)

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
    known = [(one, scorer.score(one.layout)) for one in dict.fromkeys(rated) if one.value > 0]
    if not known:
        return ()
    known.sort(key=lambda pair: -pair[0].value)
    served = weighted(scorer, known[0][1])
    near = [pair for pair in known if weighted(scorer, pair[1]) >= served - WORSE_MOST]
    kept = [pair for pair in near if not any(beats(scorer, other, pair) for other in near)]
    best_at: dict[Rated, list[str]] = {}
    for name, key in merits(scorer).items():
        best_at.setdefault(min(kept, key=key)[0], []).append(name)
    order = sorted(best_at, key=lambda one: PICKED.index(best_at[one][0]))
    order = [*order, *(one for one, _ in kept if one not in best_at)][:MOST_ANSWERS]
    scores = dict(kept)
    listed = [Answer(one.layout, scores[one], tuple(best_at.get(one, ()))) for one in order]
    return tuple(sorted(listed, key=lambda answer: -answer.score.objective))


def merits(scorer: Scorer) -> dict[str, Callable[[Scored], float]]:
    """Return for each of PICKED, in order, what is least for the layout that is best at it.

    Each in a unit of its own: shares and hardness [1], counts, or watts.
    """
    return {
        BEST: lambda pair: -pair[0].value,
        SOFT: lambda pair: hardness(scorer.question, pair[0].layout),
        FEWEST: lambda pair: many(pair[0].layout),
        POWER: lambda pair: power(scorer, pair),
        EVEN: lambda pair: -pair[1].evenness,
        RIM: lambda pair: pair[1].light_lost,
    }


def weighted(scorer: Scorer, score: Score) -> float:
    """Return the share of all zones in band, by their weights [1]."""
    return float(scorer.weight @ score.zone_shares)


def many(layout: Layout) -> int:
    """Return how many fixtures hang, those for fill included."""
    return layout.choice.count


def power(scorer: Scorer, pair: Scored) -> float:
    """Return what a layout burns [W], or its share of all allowed where watts are unknown [1]."""
    layout = pair[0].layout
    watts = lit_watts(scorer.question, layout)
    return watts if watts is not None else scorer.power(layout)


def virtues(scorer: Scorer, pair: Scored) -> tuple[float, ...]:
    """Return what counts of a layout, more being better, seven numbers near 0 to 1 [1].

    Which seven is our own choice.
    """
    rated, score = pair
    most = scorer.question.limits.count + scorer.question.limits.fill_count
    layout = rated.layout
    return (
        weighted(scorer, score), min(score.zone_shares), score.evenness, 1.0 - score.light_lost,
        1.0 - scorer.power(layout), 1.0 - many(layout) / most,
        1.0 - hardness(scorer.question, layout),
    )  # fmt: skip


def beats(scorer: Scorer, one: Scored, other: Scored) -> bool:
    """Return whether one layout is as good as another in everything and better in something."""
    if one is other:
        return False
    gains = [a - b for a, b in zip(virtues(scorer, one), virtues(scorer, other), strict=True)]
    if min(gains) < -ALIKE:
        return False
    return max(gains) > ALIKE or one[0].value > other[0].value
