"""Which comes first in a table's dates like 3/4/2026, day or month: one order a table."""

import re
from collections.abc import Iterable
from enum import StrEnum

from django import forms

# With slashes or dashes; a year of two digits is one of this century.
_SLASHED = re.compile(r"^\s*(\d{1,2})([/-])(\d{1,2})\2(\d{4}|\d{2})(?![\d/-])")
MONTHS, DAYS = 12, 31


class DateOrder(StrEnum):
    DAY_FIRST = "day"
    MONTH_FIRST = "month"


class DateOrderField(forms.ChoiceField):
    """What a keeper says of dates with slashes; "" leaves it to the table."""

    def __init__(self, **kwargs: object) -> None:
        choices = [
            ("", "as the table shows"),
            (DateOrder.DAY_FIRST, "day first: 31/12/2026"),
            (DateOrder.MONTH_FIRST, "month first: 12/31/2026"),
        ]
        label = "Dates like 3/4/2026"
        super().__init__(label=label, required=False, choices=choices, **kwargs)


def orders_that_fit(texts: Iterable[str]) -> frozenset[DateOrder]:
    """Return each order that all dates with slashes, which begin the texts, can be read by.

    Both where nothing tells them apart, none where one date needs this and another that. What
    is no date either way has no say.
    """
    fit = frozenset(DateOrder)
    for text in texts:
        if (result := _SLASHED.match(text)) and (orders := _orders(result)):
            fit &= orders
    return fit


def is_settled(texts: Iterable[str]) -> bool:
    """Whether each date with slashes means one day without more being said."""
    texts = list(texts)
    if len(fit := orders_that_fit(texts)) != len(DateOrder):
        return bool(fit)
    result = [match for text in texts if (match := _SLASHED.match(text)) and _orders(match)]
    return all(int(match[1]) == int(match[3]) for match in result)


def date_order(texts: Iterable[str], chosen: str = "") -> DateOrder | None:
    """Return the one order of a table's dates: as chosen, or the only one that fits, or None."""
    if chosen:
        return DateOrder(chosen)
    fit = orders_that_fit(texts)
    return next(iter(fit)) if len(fit) == 1 else None


def with_iso_date(text: str, order: DateOrder | None) -> str:
    """Return a text with the slashed date at its start written as 2026-12-31, others unchanged.

    Raises ValueError with a sentence for a date that cannot be read by `order`, and for one that
    could be two days where no order is known.
    """
    result = _SLASHED.match(text)
    if not result or not (orders := _orders(result)):
        return text
    first, sign, second, year = result.groups()
    shown = f"{first}{sign}{second}{sign}{year}"
    year = f"20{year}" if len(year) == 2 else year
    if order is None and int(first) != int(second):
        if len(orders) == len(DateOrder):
            raise ValueError(
                f"“{shown}” can be read two ways. Choose whether the day or the month stands "
                f"first, or write the date as {year}-12-31."
            )
        raise ValueError(
            f"“{shown}” stands among dates of the other order. Choose whether the day or the month "
            "stands first."
        )
    if order and order not in orders:
        raise ValueError(f"“{shown}” is no date with the {order.value} first.")
    month, day = (first, second) if order == DateOrder.MONTH_FIRST else (second, first)
    return f"{year}-{int(month):02}-{int(day):02}{text[result.end() :]}"


def _orders(match: re.Match[str]) -> frozenset[DateOrder]:
    """Return the orders by which a date has a month and a day."""
    first, second = int(match[1]), int(match[3])
    orders = {
        DateOrder.DAY_FIRST: (second, first),
        DateOrder.MONTH_FIRST: (first, second),
    }
    return frozenset(
        order for order, (month, day) in orders.items() if 1 <= month <= MONTHS and 1 <= day <= DAYS
    )
