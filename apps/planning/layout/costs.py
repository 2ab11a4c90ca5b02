"""What an answer costs: to buy, and in a year with power and new tubes."""

from dataclasses import dataclass

from apps.photics.layout.choice import price_of
from apps.photics.layout.hanging import Layout
from apps.planning.layout.words import price_words
from apps.planning.stored_layout import StoredQuestion

DAYS_A_YEAR = 365
# Tubes are changed after about so many days: typical of the trade.
TUBE_DAYS = 365.0
# Over so many years buying and running are summed up: our own choice, about what a lamp serves.
YEARS = 5


@dataclass(frozen=True)
class Costs:
    """What an answer burns and what is to be bought for it; None where it is not known."""

    watts: float | None
    kwh_year: float | None
    power_year: float | None
    # New tubes a year; 0 where none hang.
    renewal_year: float | None
    price: float | None
    price_words: str

    @property
    def cost_year(self) -> float | None:
        """Return the money a year, power and new tubes; None where one of them is not known."""
        if self.power_year is None or self.renewal_year is None:
            return None
        return self.power_year + self.renewal_year

    @property
    def total(self) -> float | None:
        """Return the money for buying and YEARS years, None where a part of it is not known."""
        if self.price is None or self.cost_year is None:
            return None
        return self.price + YEARS * self.cost_year


def costs_of(stored: StoredQuestion, layout: Layout, watts: float | None) -> Costs:
    """Return the Costs of a layout at the hours and prices of its plan; `watts` at its level."""
    kwh = None if watts is None else watts * stored.day_hours * DAYS_A_YEAR / 1000.0
    price = price_of(stored.question, layout.choice)
    return Costs(
        watts=watts,
        kwh_year=kwh,
        power_year=None if kwh is None or stored.price_kwh is None else kwh * stored.price_kwh,
        renewal_year=renewal_of(stored, layout),
        price=price,
        price_words=price_words(price),
    )


def renewal_of(stored: StoredQuestion, layout: Layout) -> float | None:
    """Return what new tubes cost in a year, 0 where none hang, None where a price is not known."""
    total = 0.0
    for kind in layout.hung:
        if stored.question.candidates[kind.candidate].kind != "tube":
            continue
        price = stored.renewal_of(kind.candidate)
        if price is None:
            return None
        total += price * len(kind.places_cm) * DAYS_A_YEAR / TUBE_DAYS
    return total
