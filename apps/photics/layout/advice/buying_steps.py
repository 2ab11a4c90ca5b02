"""What to buy first: the fixtures of a layout, in the order that soonest serves the zones."""

from dataclasses import dataclass

import numpy as np

from apps.photics.layout.choice import missing_of
from apps.photics.layout.hanging import Layout
from apps.photics.layout.question import Question
from apps.photics.layout.score import Scorer

# Fixtures of a layout that is bought in steps at most: chosen, because each step tries all left.
STEPS_MOST = 16


@dataclass(frozen=True)
class BuyingStep:
    """One fixture bought: its place in the layout, and what hangs then gives.

    Prices are in the one unit of the budget, None where one is not known.
    """

    fixture: int  # in the order of the layout's fixtures, from 0
    candidate: int
    price: float | None
    total: float | None  # spent so far
    in_budget: bool
    zone_shares: tuple[float, ...]  # of each zone's points in band with what hangs then [1]


def buying_steps(
    scorer: Scorer, layout: Layout, *, budget: float | None = None
) -> tuple[BuyingStep, ...]:
    """Return the BuyingSteps of a layout, () where nothing is missing or far too much is.

    `budget` in any one unit, that of the question's limits where it is left out.

    What is at hand hangs first. Each step buys what brings the zones nearest, greedily: our own
    choice; levels are set anew at each but the last.
    """
    question = scorer.question
    kind_of = [kind.candidate for kind in layout.hung for _ in kind.places_cm]
    hanging, missing = parted(question, layout)
    if not missing or len(kind_of) > STEPS_MOST:
        return ()
    steps: list[BuyingStep] = []
    known = all(question.candidates[kind_of[k]].price is not None for k in missing)
    total = 0.0 if known else None
    budget = question.limits.budget if budget is None else budget
    while missing:
        tried = {k: scorer.best_level(layout.only([*hanging, k])) for k in missing}
        best = max(tried, key=lambda k: tried[k][1])
        missing.remove(best)
        hanging.append(best)
        price = question.candidates[kind_of[best]].price
        total = None if total is None or price is None else total + price
        steps.append(
            BuyingStep(
                fixture=best,
                candidate=kind_of[best],
                price=price,
                total=total,
                in_budget=budget is None or (total is not None and total <= budget),
                # The last one ends at the layout itself, whatever else would do as well.
                zone_shares=scorer.score(tried[best][0] if missing else layout).zone_shares,
            )
        )
    return tuple(steps)


def parted(question: Question, layout: Layout) -> tuple[list[int], list[int]]:
    """Return which fixtures of a layout are at hand and which are missing, by their places.

    Of a kind one has some of, those nearest to the tank's middle are at hand: our own choice.
    """
    middle = np.array([question.tank.length_cm, question.tank.width_cm]) / 2.0
    at_hand, missing, first = [], [], 0
    for kind in layout.hung:
        candidate = question.candidates[kind.candidate]
        away = [float(np.hypot(*(np.array(place) - middle))) for place in kind.places_cm]
        order = [first + int(k) for k in np.argsort(away, kind="stable")]
        lacking = missing_of(candidate, len(order))
        at_hand += order[: len(order) - lacking]
        missing += order[len(order) - lacking :]
        first += len(order)
    return at_hand, missing
