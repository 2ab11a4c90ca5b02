"""Which columns of a logger's table hold the time and the PAR: by headings, else by the cells."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number, shorten
from apps.common.tables.dates import read_unix
from apps.common.tables.reading import UnreadableTable, heading_words, split_line
from apps.surveys.tables.headings import is_numbering

TIME_WORDS = {"date", "datetime", "time", "timestamp", "datum", "zeit", "unix", "epoch", "clock"}
LIGHT_WORDS = {"par", "ppfd", "umol", "µmol", "μmol", "light", "quantum"}
# What else loggers write beside the light, or count by.
OTHER_WORDS = {
    "index", "no", "nr", "number", "record", "sample", "temp", "temperature", "battery", "volt",
    "voltage", "lux", "depth", "humidity", "status", "serial",
}  # fmt: skip
HEADER_WITHIN = 30
CELLS_SEEN = 50
_DAY_START = re.compile(r"^\W*\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|^\W*\d{8}\b|^[A-Za-z]{3,9}\W+\d")
_CLOCK = re.compile(r"^\d{1,2}[:.]\d{2}")
_HALF = re.compile(r"^[ap]\.?m\.?$", re.IGNORECASE)


@dataclass(frozen=True)
class LogColumns:
    """Where a line holds its time, in one cell or some, and its PAR; how many lines stand above."""

    times: tuple[int, ...]
    par: int
    above: int = 0


def log_columns(lines: Sequence[str], sign: str) -> LogColumns:
    """Return the LogColumns of a table's filled lines.

    Raises UnreadableTable with a sentence where more than one column could be the PAR.
    """
    rows = [split_line(line, sign) for line in lines[: HEADER_WITHIN + CELLS_SEEN]]
    for above, cells in enumerate(rows[:HEADER_WITHIN]):
        if columns := _by_heading(cells, rows[above + 1 :], above + 1):
            return columns
    first = next((at for at, cells in enumerate(rows) if _time_cells(cells)), 0)
    return _by_cells(rows[first:], above=first)


def _by_heading(
    cells: Sequence[str], below: Sequence[Sequence[str]], above: int
) -> LogColumns | None:
    """Return the LogColumns that a line of headings names, None where it is none."""
    words = [set(heading_words(cell)) for cell in cells]
    times = tuple(at for at, named in enumerate(words) if named & TIME_WORDS)
    named_par = [at for at, w in enumerate(words) if w & LIGHT_WORDS and at not in times]
    if not times or any(_is_number(cell) for cell in cells):
        return None
    exact = [at for at in named_par if words[at] & {"par", "ppfd"}]
    light = exact or named_par
    if not light:
        known = {at for at, w in enumerate(words) if w & OTHER_WORDS} | set(times)
        light = [at for at in _number_columns(below) if at not in known]
    if len(light) != 1:
        raise UnreadableTable(_which(light or range(len(cells)), cells))
    return LogColumns(_times_there(times, below), light[0], above)


def _by_cells(rows: Sequence[Sequence[str]], *, above: int) -> LogColumns:
    """Return the LogColumns of a table without headings: a time, and one column of numbers."""
    if not rows:
        return LogColumns((0,), 1)
    times = _time_cells(rows[0]) or (0,)
    light = [
        at
        for at in _number_columns(rows)
        if at not in times and not is_numbering([row[at] for row in rows if at < len(row)])
    ]
    if len(light) > 1:
        raise UnreadableTable(_which(light, rows[0]))
    return LogColumns(times, light[0] if light else max(times) + 1, above)


def _time_cells(cells: Sequence[str]) -> tuple[int, ...]:
    """Return the places of a line's day, clock and AM or PM; of Unix time its one place."""
    for at, cell in enumerate(cells[:4]):
        if read_unix(cell):
            return (at,)
        if not _DAY_START.match(cell):
            continue
        more = [at]
        for then in (at + 1, at + 2):
            if then < len(cells) and (_CLOCK.match(cells[then]) or _HALF.match(cells[then])):
                more.append(then)
        return tuple(more)
    return ()


def _times_there(times: tuple[int, ...], below: Sequence[Sequence[str]]) -> tuple[int, ...]:
    """Return the time's columns, with one of AM or PM that has no heading of its own."""
    then = max(times) + 1
    halves = [row[then] for row in below if then < len(row)]
    is_half = bool(halves) and all(_HALF.match(cell) for cell in halves)
    return (*times, then) if is_half else times


def _number_columns(rows: Sequence[Sequence[str]]) -> list[int]:
    """Return the columns whose cells are mostly numbers."""
    width = max((len(row) for row in rows), default=0)
    result = []
    for at in range(width):
        cells = [row[at] for row in rows if at < len(row) and row[at]]
        if cells and 2 * sum(map(_is_number, cells)) > len(cells):
            result.append(at)
    return result


def _is_number(cell: str) -> bool:
    try:
        parse_number(cell, words=PAR_WORDS)
    except UnreadableNumber:
        return False
    return True


def _which(light: Sequence[int] | range, cells: Sequence[str]) -> str:
    names = " and ".join(f"“{shorten(cells[at])}”" for at in light if at < len(cells))
    return (
        f"Which column is the PAR? It could be {names}. Write a line of headings above the table, "
        "such as “time;PAR;temperature”, and leave the others as they are."
    )
