"""The one answer to recommend, and why: it serves, and no cheaper one serves as well."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.photics.layout.answers import Answer
from apps.photics.layout.choice import price_of
from apps.photics.layout.hanging import Layout
from apps.photics.layout.question import Question
from apps.photics.layout.shortlist import cost_of
from apps.photics.layout.zone_light import ZoneLight, zone_lights

# An answer that serves more surely may cost this many times what the cheapest does [1]: chosen, so
# that a little money buys certainty and no more than that.
DEARER_MOST = 1.25
# Answers whose worst zones lie within this of each other serve about as well [%]: our own choice.
AS_WELL_PERCENT = 5.0
# Why an answer is recommended: it alone serves; it serves for the least money; it serves more
# surely for little more; prices are not known; none serves, and it comes nearest.
ONLY, CHEAPEST, SURER, UNPRICED, NEAREST = "only", "cheapest", "surer", "unpriced", "nearest"
# It serves most surely, whatever it costs.
SUREST = "surest"
# What a recommendation weighs: money, and certainty where it costs little more; money alone; or
# certainty alone.
BALANCED, LEAST_MONEY, MOST_SURE = "balanced", "cheapest", "surest"


@dataclass(frozen=True)
class LitAnswer:
    """An answer with the light each zone has from it."""

    answer: Answer
    zones: tuple[ZoneLight, ...]

    @property
    def layout(self) -> Layout:
        """Return what hangs."""
        return self.answer.layout

    @property
    def served(self) -> bool:
        """Return whether it likely serves every zone."""
        return all(zone.served for zone in self.zones)

    @property
    def likely_percent(self) -> float:
        """Return the likely share of the zone that is served least [%]."""
        return min(zone.likely_percent for zone in self.zones)

    @property
    def sureness_percent(self) -> float:
        """Return the middle of likely and sure share of the zone where that is least [%]."""
        return min(zone.likely_percent + zone.surely_percent for zone in self.zones) / 2.0


def lit_answer(question: Question, answer: Answer) -> LitAnswer:
    """Return the LitAnswer of an Answer."""
    return LitAnswer(answer, zone_lights(question, *answer.layout.fixtures(question)))


def recommended(
    question: Question, lit: Sequence[LitAnswer], *, weigh: str = BALANCED
) -> tuple[int, str]:
    """Return the place of the LitAnswer to recommend, and one of the reasons above.

    `weigh` is BALANCED, LEAST_MONEY or MOST_SURE. Raises ValueError where there is none at all.
    """
    served = [k for k, one in enumerate(lit) if one.served]
    chosen = served or nearest(lit)

    def cost(k: int) -> float:
        return cost_of(question, lit[k].layout.choice)

    cheapest = min(chosen, key=lambda k: (cost(k), -lit[k].sureness_percent))
    if not served:
        return cheapest, NEAREST
    if any(price_of(question, lit[k].layout.choice) is None for k in served):
        return max(served, key=lambda k: (lit[k].sureness_percent, -cost(k))), UNPRICED
    if len(served) == 1:
        return cheapest, ONLY
    if weigh == LEAST_MONEY:
        return cheapest, CHEAPEST
    if weigh == MOST_SURE:
        return max(served, key=lambda k: (lit[k].sureness_percent, -cost(k))), SUREST
    affordable = [k for k in served if cost(k) <= DEARER_MOST * cost(cheapest)]
    surest = max(affordable, key=lambda k: (lit[k].sureness_percent, -cost(k)))
    if lit[surest].sureness_percent <= lit[cheapest].sureness_percent + AS_WELL_PERCENT:
        return cheapest, CHEAPEST
    return surest, CHEAPEST if cost(surest) <= cost(cheapest) else SURER


def nearest(lit: Sequence[LitAnswer]) -> list[int]:
    """Return the places of the LitAnswers whose worst zone comes about nearest to being served."""
    most = max(one.likely_percent for one in lit)
    return [k for k, one in enumerate(lit) if one.likely_percent >= most - AS_WELL_PERCENT]
