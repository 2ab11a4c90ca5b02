"""A water value as keepers write it: “8.2 dKH”, “<0.02”, “8.0-8.2”."""

import re

from apps.common.numbers import UnreadableNumber, shorten, with_joined_thousands
from apps.surveys.tables.burst import parse_burst

_AMOUNT = re.compile(
    r"^([<>~≈]?)\s*([+-]?[\d.,]+(?:[eE][+-]?\d+|\s*(?:-|–|±|\+/-)\s*[\d.,]+)?)"
    r"\s*([^\s\d.,±–-].*)?$"
)


def read_amount(cell: str) -> tuple[float, str, str]:
    """Return a water value's number, the unit behind it, and words for what the number leaves out.

    Of “8.0-8.2” the number is the middle, and of “<0.02” the bound. Raises UnreadableNumber.
    """
    match = _AMOUNT.match(with_joined_thousands(cell.strip()))
    if not match:
        raise UnreadableNumber(f"“{shorten(cell)}” is not a number.")
    sign, number, unit = match.groups()
    value, spread = parse_burst(number)
    words = cell.strip() if sign or spread is not None else ""
    return value, (unit or "").strip(), words
