"""A water value as keepers write it: “8.2 dKH”, “<0.02”, “8.0-8.2”."""

import re

from apps.common.numbers import UnreadableNumber, shorten, with_joined_thousands
from apps.common.tables.decimal_mark import two_ways_problem
from apps.surveys.tables.burst import AROUND, BETWEEN, parse_burst

_AMOUNT = re.compile(
    rf"^([<>~≈]?)\s*([+-]?[\d.,]+(?:[eE][+-]?\d+|\s*(?:{BETWEEN}|{AROUND})\s*[\d.,]+)?)"
    r"\s*([^\s\d.,±–—…-].*)?$",
    re.IGNORECASE,
)
# A number beside a unit's letters; one right behind them belongs to the unit, as in mg/m3.
_OWN_NUMBER = re.compile(r"(?<![^\W\d_])(?<![^\W\d_][-−^])\d|\d[.,]\d")
_PARTED_RANGE = re.compile(rf"^[\d.,]+\s*{BETWEEN}", re.IGNORECASE)


def read_amount(cell: str, *, has_decimal_commas: bool = False) -> tuple[float, str, str]:
    """Return a water value's number, the unit behind it, and words for what the number leaves out.

    Of “8.0-8.2” the number is the middle, and of “<0.02” the bound. In a table that
    `has_decimal_commas`, “1.350” can mean two numbers. Raises UnreadableNumber.
    """
    plain = cell.strip()
    joined = with_joined_thousands(plain)
    match = _AMOUNT.match(joined)
    if not match:
        raise UnreadableNumber(f"“{shorten(cell)}” is not a number.")
    sign, number, unit = match[1], match[2], (match[3] or "").strip()
    # “1 350-400” may end at 400 or at 1 400.
    if _OWN_NUMBER.search(unit) or (joined != plain and _PARTED_RANGE.match(number)):
        raise UnreadableNumber(
            f"“{shorten(plain)}” holds more than one number. Write one, or both ends as 8.0-8.2."
        )
    if has_decimal_commas and (problem := two_ways_problem(number, has_choice=False)):
        raise UnreadableNumber(problem)
    value, spread = parse_burst(number)
    words = plain if sign or spread is not None else ""
    return value, unit, words
