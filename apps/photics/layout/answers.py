"""A short list of different good layouts: those no other beats in everything that counts."""

from dataclasses import dataclass

from apps.photics.layout.score import Layout, Score, lit_watts
from apps.photics.layout.softness import hardness

MOST_ANSWERS = 5
# An answer may serve the zones this much worse than the best when it wins elsewhere [1], and
# layouts nearer than this in everything are one [1]. House rules.
WORSE_MOST, ALIKE = 0.25, 0.02
# What an answer may be best at, in the order they are picked.
BEST, SOFT, FEWEST, POWER, EVEN, RIM = "best", "soft", "fewest", "power", "even", "rim"
PICKED = (BEST, SOFT, FEWEST, POWER, EVEN, RIM)


@dataclass(frozen=True)
class Answer:
    layout: Layout
    score: Score
    best_at: tuple[str, ...]


def answers(scorer, found):
    """Return the Answers from Found layouts, best objective first; () from none."""
    known = [(f, scorer.score(f.layout)) for f in dict.fromkeys(found) if f.value > 0]
    if not known:
        return ()
    known.sort(key=lambda pair: -pair[0].value)
    served = weighted(scorer, known[0][1])
    near = [pair for pair in known if weighted(scorer, pair[1]) >= served - WORSE_MOST]
    kept = [pair for pair in near if not any(beats(scorer, other, pair) for other in near)]
    best_at = {}
    for name, key in (
        (BEST, lambda pair: -pair[0].value),
        (SOFT, lambda pair: hardness(scorer.question, pair[0].layout)),
        (FEWEST, lambda pair: many(pair[0].layout)),
        (POWER, lambda pair: power(scorer, pair)),
        (EVEN, lambda pair: -pair[1].evenness),
        (RIM, lambda pair: pair[1].spill),
    ):
        best_at.setdefault(min(kept, key=key)[0], []).append(name)
    order = sorted(best_at, key=lambda f: PICKED.index(best_at[f][0]))
    order = [*order, *(f for f, _ in kept if f not in best_at)][:MOST_ANSWERS]
    scores = dict(kept)
    listed = [Answer(f.layout, scores[f], tuple(best_at.get(f, ()))) for f in order]
    return tuple(sorted(listed, key=lambda answer: -answer.score.objective))


def weighted(scorer, score):
    """Return the share of all zones in band, by their weights [1]."""
    return float(scorer.weight @ score.zone_shares)


def many(layout):
    return layout.choice.count + layout.choice.fill_count


def power(scorer, pair):
    """Return what a layout burns: watts, or its share of all allowed where watts are unknown."""
    layout = pair[0].layout
    watts = lit_watts(scorer.question, layout)
    return watts if watts is not None else scorer.power(layout, layout.level, layout.fill_level)


def virtues(scorer, pair):
    """Return what counts of a layout, more being better, each near 0 to 1."""
    found, score = pair
    most = scorer.question.limits.count + scorer.question.limits.fill_count
    layout = found.layout
    return (
        weighted(scorer, score), min(score.zone_shares), score.evenness, 1.0 - score.spill,
        1.0 - scorer.power(layout, layout.level, layout.fill_level), 1.0 - many(layout) / most,
        1.0 - hardness(scorer.question, layout),
    )  # fmt: skip


def beats(scorer, one, other):
    """Return whether one layout is as good as another in everything and better in something."""
    if one is other:
        return False
    gains = [a - b for a, b in zip(virtues(scorer, one), virtues(scorer, other), strict=True)]
    if min(gains) < -ALIKE:
        return False
    return max(gains) > ALIKE or one[0].value > other[0].value
