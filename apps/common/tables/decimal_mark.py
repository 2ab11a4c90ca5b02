"""Numbers such as 1.212 and 1,212, which are one and a bit or over a thousand by their table."""

import re
from collections.abc import Iterable

from django import forms

POINT, COMMA = ".", ","
# One mark before exactly three digits, or groups of three: could part thousands.
_GROUPED = re.compile(r"^\s*[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+(?![\d.,])")
_DECIMAL_COMMA = re.compile(r"^\s*[+-]?(?:0,\d+|\d+,(?:\d{1,2}|\d{4,}))(?![\d.,])")


class DecimalMarkField(forms.ChoiceField):
    """What a keeper says of numbers that can be read two ways; "" leaves it to the table."""

    def __init__(self, **kwargs: object) -> None:
        choices = [
            ("", "as the table shows"),
            (POINT, "the point: 1.212 is just over 1, and 1,212 over a thousand"),
            (COMMA, "the comma: 1,212 is just over 1, and 1.212 over a thousand"),
        ]
        super().__init__(label="Decimals follow", required=False, choices=choices, **kwargs)


def has_decimal_commas(cells: Iterable[str]) -> bool:
    """Whether some number among the cells has a comma that can only be its decimal mark."""
    return any(_DECIMAL_COMMA.match(cell) for cell in cells)


def two_ways_problem(cell: str, *, has_choice: bool = True) -> str:
    """Return a sentence for a cell like 1.212 in a table of decimal commas, "" for any other.

    `has_choice` says whether its page has a DecimalMarkField.
    """
    result = _GROUPED.match(cell)
    if not result or COMMA in result[0]:
        return ""
    number = result[0].strip()
    whole = number.replace(".", "")
    decimal = number.replace(POINT, COMMA, 1)
    problem = f"“{number}” can mean {whole} or {decimal}, as this table has decimal commas. "
    if not has_choice:
        return f"{problem}Write {whole} or {decimal}0."
    return f"{problem}Choose what decimals follow, or write {whole} or {number}0."


def by_mark(cell: str, mark: str) -> str:
    """Return a cell without the sign that parts its thousands, its decimals behind a point.

    Left as it is where no decimal mark was chosen.
    """
    if not mark:
        return cell
    parting = COMMA if mark == POINT else POINT
    grouped = (
        rf"^(\s*[+-]?[1-9]\d{{0,2}}(?:{re.escape(parting)}\d{{3}})+)(?![\d{re.escape(parting)}])"
    )
    cell = re.sub(grouped, lambda match: match[1].replace(parting, ""), cell)
    return cell.replace(COMMA, POINT, 1) if mark == COMMA else cell
