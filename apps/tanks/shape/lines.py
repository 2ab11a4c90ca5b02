"""Corners and braces as a person types them: one a line, in the keeper's unit."""

from collections.abc import Sequence

from django.core.exceptions import ValidationError

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.common.units import exact_length, parse_length_cm
from apps.tanks.shape.checking import BRACE_KEYS, BRACE_SIZES, corners_of


def lines_of(text: str) -> list[tuple[int, list[str]]]:
    """Return number and cells of each line that says something; semicolons part cells too."""
    return [
        (number, [cell for cell in line.replace(";", " ; ").split() if cell != ";"])
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip()
    ]


def read_corners(text: str, unit: str) -> list[list[float]]:
    """Return the corners that lines "from left, from front" tell [cm]; raises ValidationError."""
    return [list(read_cells(n, cells, unit, 2)) for n, cells in lines_of(text)]


def read_braces(text: str, unit: str) -> list[dict[str, float]]:
    """Return the braces that lines of four lengths and a percentage tell; or ValidationError."""
    braces = []
    for number, cells in lines_of(text):
        *sizes, passes = read_cells(number, cells, unit, 4, percents=1)
        braces.append(dict(zip(BRACE_KEYS, (*sizes, passes / 100.0), strict=True)))
    return braces


def read_cells(
    number: int, cells: Sequence[str], unit: str, lengths: int, *, percents: int = 0
) -> list[float]:
    """Return the lengths [cm] and percentages of one line, or raise ValidationError naming it."""
    if len(cells) != lengths + percents:
        wanted = f"{lengths} lengths" + (" and a percentage" if percents else "")
        raise ValidationError(f"Line {number}: {wanted} with spaces between, please.")
    try:
        return [
            *(parse_length_cm(cell.rstrip(","), unit) for cell in cells[:lengths]),
            *(parse_number(cell.rstrip("%")) for cell in cells[lengths:]),
        ]
    except UnreadableNumber as problem:
        raise ValidationError(f"Line {number}: {shorten(str(problem))}") from None


def corners_text(corners: object, unit: str) -> str:
    """Return stored corners as lines that `read_corners` reads back."""
    return "\n".join(
        " ".join(bare_length(side, unit) for side in corner) for corner in corners_of(corners) or ()
    )


def braces_text(braces: Sequence[dict[str, float]], unit: str) -> str:
    """Return stored braces as lines that `read_braces` reads back."""
    return "\n".join(
        " ".join(
            [
                *(bare_length(brace[key], unit) for key in BRACE_SIZES),
                f"{100 * brace['transmission']:g}%",
            ]
        )
        for brace in braces
    )


def bare_length(value_cm: float, unit: str) -> str:
    """Return a length without a space in it, so that it stays one cell of a line."""
    text = exact_length(value_cm, unit)
    return text.replace(" ", "-" if "/" in text else "")
