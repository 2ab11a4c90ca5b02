"""Wide tables: one block per depth, places along the front across, front to back down.

    depth;5 cm
    ;10;30;50
    8;180;468;170
    24;210;520;200

`unfold_wide` writes such a text as one reading a line; everything else about reading a table
then holds for it too.
"""

import re
from collections.abc import Sequence

from apps.common.numbers import UnreadableNumber
from apps.common.tables.reading import (
    HEADER_WITHIN,
    heading_words,
    is_remark,
    plain_lines,
    rarest_delimiter,
)
from apps.common.units import parse_length_cm
from apps.photics.ground.lengths import CM, UNIT_WORDS
from apps.surveys.tables.headings import read_headings

LONG_HEADER = "x;y;depth;par"
# A header with so many columns of a reading is that of a table with one reading a line; it stands
# at the top.
COLUMNS_NAMED = 3
_UNIT = r"(?P<{}>mm|cm|inches|inch|in|m|\"|″)"
# A title that says the depth in other words, which counts only right above a grid: “10 cm deep”.
_TITLE = re.compile(
    r"^\W*(?:at|layer|level|grid|par|plane)?\b[\s:,@]*(?:at\s+)?(?P<number>\d+(?:[.,]\d+)?)\s*"
    + _UNIT.format("after")
    + r"\b\s*(?:deep|depth|down|below(?: the)?(?: surface)?|under(?: the)?(?: surface)?)?\W*$",
    re.IGNORECASE,
)
_DEPTH = re.compile(
    r"^\W*(?:depth|z)\b[\s_(\[:=]*" + _UNIT.format("before") + r"?[\s)\]:=]*"
    r"(?P<number>\d+(?:[.,]\d+)?)\s*" + _UNIT.format("after") + r"?\W*$",
    re.IGNORECASE,
)


def unfold_wide(text: str) -> str | None:
    """Return a wide table as a long one, or None when the text is no wide table.

    A line that belongs to no block stays as it is, so that it is listed as unread.
    """
    # A remark becomes a blank line, so that what follows keeps its place.
    lines = ["" if is_remark(line) else line for line in plain_lines(text)]
    sign = rarest_delimiter(lines)
    rows = [[cell.strip().strip('"').strip() for cell in line.split(sign)] for line in lines]
    if any(map(_is_long_header, rows[:HEADER_WITHIN])):
        return None
    long: list[str] = []
    stray: list[str] = []
    at = 0
    while at < len(rows):
        depth = _depth_of(rows[at])
        heads = at + 1
        if not depth and (corner := _depth_of(rows[at][:1])):
            # The depth stands in the corner of the grid itself.
            rows[at], depth, heads = ["", *rows[at][1:]], corner, at
        while heads < len(rows) and not any(rows[heads]):
            heads += 1
        if depth and heads < len(rows) and _is_heading(rows[heads]):
            at = _unfold_block(rows, heads, depth, long)
        else:
            if any(rows[at]):
                stray.append(lines[at])
            at += 1
    return "\n".join([LONG_HEADER, *long, *stray]) if long else None


def _is_long_header(cells: Sequence[str]) -> bool:
    """Whether a line names the columns of a table with one reading a line."""
    return len(read_headings(list(cells)).places) >= COLUMNS_NAMED


def _depth_of(cells: Sequence[str]) -> str | None:
    """Return a depth line's length as text with its unit, or None."""
    words = " ".join(filter(None, cells))
    if title := _TITLE.match(words):
        return f"{title['number']} {title['after']}" if sum(map(bool, cells)) == 1 else None
    result = _DEPTH.match(words)
    if not result:
        return None
    return f"{result['number']} {result['after'] or result['before'] or ''}".strip()


def _is_heading(cells: Sequence[str]) -> bool:
    """Whether a row names two places or more along the front, with no place of its own."""
    return not _is_length(cells[0]) and sum(map(_is_length, cells[1:])) >= 2


def _is_length(cell: str) -> bool:
    try:
        parse_length_cm(cell, CM)
    except UnreadableNumber:
        return False
    return True


def _unfold_block(rows: Sequence[Sequence[str]], heads: int, depth: str, long: list[str]) -> int:
    """Append the block's readings to `long` and return the index of the first row behind it."""
    label, *places = rows[heads]
    units = [word for word in heading_words(label) if word in UNIT_WORDS]
    unit = f" {units[-1]}" if units else ""
    at = heads + 1
    while at < len(rows) and any(rows[at]) and not _depth_of(rows[at]):
        y, *values = rows[at]
        for i, value in enumerate(values):
            if value:
                # A value with no place above it becomes a line without one.
                x = places[i] if i < len(places) else ""
                long.append(";".join([_with(x, unit), _with(y, unit), depth, value]))
        at += 1
    return at


def _with(cell: str, unit: str) -> str:
    return cell + unit if cell and cell[-1].isdigit() else cell
