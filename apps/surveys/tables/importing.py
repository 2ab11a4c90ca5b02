"""Reading a pasted block or a file of readings: pure parsing, no request in it.

`parse_table` turns a text into good rows and bad lines. Whatever the text is, the answer is one
of these or an UnreadableTable with a sentence.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.common.tables.decimal_mark import by_mark, has_decimal_commas, two_ways_problem
from apps.common.tables.reading import (
    DELIMITERS,
    HEADER_WITHIN,
    BadLine,
    UnreadableTable,
    filled_lines,
    heading_words,
    read_each,
    split_line,
    text_of,
    usual_delimiter,
    without_empty_end,
    without_missing,
)
from apps.surveys.models import Survey
from apps.surveys.recording import ReadingRow
from apps.surveys.tables.headings import (
    is_numbering,
    is_plain_name,
    read_headings,
    unit_word,
)
from apps.surveys.tables.typed_rows import COLUMNS, LENGTHS, TypedRow, read_row

NEEDED = ("x", "y", "depth", "par")
# Columns offered for matching by hand; a wider table is a mistake.
COLUMNS_MOST = 30
ABOVE_HEADER = "Stands above the header, so it is not read."


class UnsureColumns(UnreadableTable):
    """It is a table, but which column is which has to be said by hand."""


@dataclass(frozen=True)
class Layout:
    """How lines fall into columns: where each stands, and the unit its heading names."""

    delimiter: str
    places: dict[str, int]  # {column: index}
    units: dict[str, str]  # {column: unit}
    header: str = ""  # the header line as it was, empty without one
    header_index: int = -1
    width: int = 0  # cells a line should have; 0 when only the named columns matter
    mark: str = ""  # the decimal mark as chosen, "" leaves it to each number
    has_decimal_commas: bool = False


@dataclass(frozen=True)
class GoodLine:
    number: int
    text: str
    row: ReadingRow


@dataclass(frozen=True)
class ParsedTable:
    layout: Layout
    good: tuple[GoodLine, ...]
    bad: tuple[BadLine, ...]

    @property
    def split_by(self) -> str:
        return DELIMITERS[self.layout.delimiter]

    def good_text(self) -> str:
        return text_of(self.good, header=self.layout.header)

    def bad_text(self) -> str:
        return text_of(self.bad)

    def shown_text(self) -> str:
        """Return the lines that show what each column holds: the good ones, if there are any."""
        return self.good_text() if self.good else text_of(self.bad, header=self.layout.header)


def parse_table(
    text: str,
    *,
    survey: Survey,
    unit: str,
    first_number: int = 1,
    match: Mapping[str, int] | None = None,
    mark: str = "",
) -> ParsedTable:
    """Return the ParsedTable of a text of readings for a survey; lengths in `unit` unless said.

    Blank lines are passed over. `match` says by hand which column is which: {column: index},
    and `mark` what decimals follow; without it a number that can be read two ways is a bad line.
    Raises UnreadableTable when the text is too long, is not text or is empty, and
    UnsureColumns when a header, or the match, lacks a column.
    """
    filled = filled_lines(text, first_number=first_number)
    if not filled:
        raise UnreadableTable("There are no lines in it. Paste or choose a table of readings.")
    texts = [line for _, line in filled]
    layout = _lay_out_by_hand(texts, match) if match else _lay_out(texts)
    layout = replace(layout, mark=mark, has_decimal_commas=_has_decimal_commas(texts, layout))
    above = [BadLine(*line, ABOVE_HEADER) for line in filled[: max(layout.header_index, 0)]]
    good, bad = read_each(
        filled[layout.header_index + 1 :],
        lambda line: _read_line(line, layout=layout, survey=survey, unit=unit),
    )
    return ParsedTable(layout, tuple(GoodLine(*line) for line in good), (*above, *bad))


def _lay_out(lines: Sequence[str]) -> Layout:
    """Return the Layout of the filled lines, by a header if there is one, by order if not."""
    delimiter = _delimiter(lines)
    for index, line in enumerate(lines[:HEADER_WITHIN]):
        cells = split_line(line, delimiter)
        headings = read_headings(cells)
        places = headings.places
        seen = [*places.values(), *(at for ats in headings.contested.values() for at in ats)]
        if len(seen) < 2 or any(_is_number(cells[at]) for at in seen):
            continue
        _refuse_contested(headings.contested, cells)
        _refuse_numbering(places, cells, lines[index + 1 :], delimiter)
        lacking = [name for name in NEEDED if name not in places]
        if lacking:
            raise UnsureColumns(
                f"The header “{shorten(line.strip(), 60)}” has no column for "
                f"{' and '.join(lacking)}. Name the columns x, y, depth, par."
            )
        return Layout(delimiter, places, headings.units, line, index, len(cells))
    unknown = _unknown_header(lines, delimiter)
    if unknown:
        raise UnsureColumns(
            f"The header “{shorten(unknown.strip(), 60)}” names no column that is known here. "
            "Say which is which, or name them x, y, depth, par."
        )
    return Layout(delimiter, {name: at for at, name in enumerate(COLUMNS)}, {})


def _refuse_contested(contested: Mapping[str, Sequence[int]], cells: Sequence[str]) -> None:
    """Raise UnsureColumns where two headings or more could be one column."""
    for name, ats in contested.items():
        which = " and ".join(f"“{shorten(cells[at])}”" for at in ats)
        raise UnsureColumns(f"{which} could each be {COLUMNS[name][1]}. Say which is which.")


def _refuse_numbering(
    places: Mapping[str, int], cells: Sequence[str], below: Sequence[str], delimiter: str
) -> None:
    """Raise UnsureColumns where what is taken for PAR only counts the lines."""
    at = places.get("par")
    if at is None or is_plain_name(cells[at], "par"):
        return
    rows = [split_line(line, delimiter) for line in below]
    if is_numbering([row[at] for row in rows if at < len(row)]):
        raise UnsureColumns(
            f"“{shorten(cells[at])}” only counts the lines, so it is not taken for PAR. "
            "Say which column is which."
        )


def _has_decimal_commas(lines: Sequence[str], layout: Layout) -> bool:
    rows = (split_line(line, layout.delimiter) for line in lines)
    return has_decimal_commas(
        row[at] for row in rows for at in layout.places.values() if at < len(row)
    )


def _unknown_header(lines: Sequence[str], delimiter: str) -> str:
    """Return the line of words right above the first numbers that names as many columns."""
    above = ""
    for line in lines[: HEADER_WITHIN + 1]:
        cells = split_line(line, delimiter)
        if any(_is_number(cell) for cell in cells):
            names = [cell for cell in split_line(above, delimiter) if heading_words(cell)]
            return above if len(names) >= len(NEEDED) and len(names) == len(cells) else ""
        above = line
    return ""


def _lay_out_by_hand(lines: Sequence[str], match: Mapping[str, int]) -> Layout:
    """Return the Layout of a match; the first line is a header when it has no numbers there."""
    lacking = [name for name in NEEDED if name not in match]
    if lacking:
        raise UnsureColumns(f"Say which column holds {' and '.join(lacking)}.")
    delimiter = _delimiter(lines)
    cells = split_line(lines[0], delimiter)
    is_header = not any(_is_number(cells[at]) for at in match.values() if at < len(cells))
    if not is_header:
        return Layout(delimiter, dict(match), {}, width=max(len(cells), max(match.values()) + 1))
    units = {}
    for name, at in match.items():
        if name in LENGTHS and at < len(cells) and (named := unit_word(cells[at])):
            units[name] = named
    return Layout(delimiter, dict(match), units, lines[0], 0, len(cells))


@dataclass(frozen=True)
class SeenColumn:
    """One column as it stands in the text, for matching by hand."""

    index: int
    first: str
    samples: str
    guess: str


def seen_columns(text: str, match: Mapping[str, int] | None = None) -> list[SeenColumn]:
    """Return the SeenColumns of a text's first lines, each with the column it is taken for."""
    lines = [line for number, line in filled_lines(text) if number <= 4 * HEADER_WITHIN]
    delimiter = _delimiter(lines)
    rows = [split_line(line, delimiter) for line in lines[:4]]
    width = min(max((len(row) for row in rows), default=0), COLUMNS_MOST)
    guessed = read_headings(rows[0]).places if rows else {}
    homes = {at: name for name, at in (match or guessed).items()}
    return [
        SeenColumn(
            index=at,
            first=shorten(rows[0][at], 30) if at < len(rows[0]) else "",
            samples=", ".join(shorten(row[at], 12) for row in rows[1:] if at < len(row)),
            guess=homes.get(at, ""),
        )
        for at in range(width)
    ]


def _delimiter(lines: Sequence[str]) -> str:
    return usual_delimiter(lines[: 2 * HEADER_WITHIN], cells=len(NEEDED), signs=DELIMITERS)


def _is_number(cell: str) -> bool:
    try:
        parse_number(cell)
    except UnreadableNumber:
        return False
    return True


def _read_line(line: str, *, layout: Layout, survey: Survey, unit: str) -> ReadingRow:
    """Return the ReadingRow of a line, or raise ValueError with what is wrong with it."""
    cells = without_empty_end(split_line(line, layout.delimiter), layout.width or len(COLUMNS))
    if wrong_width := _width_problem(cells, layout):
        raise ValueError(wrong_width)
    texts = {name: cells[at] for name, at in layout.places.items() if at < len(cells)}
    # A spread may be lacking; what else says so is a line to look at.
    texts["spread"] = without_missing(texts.get("spread", ""))
    if layout.has_decimal_commas and not layout.mark:
        problems = filter(None, map(two_ways_problem, texts.values()))
        if problem := " ".join(problems):
            raise ValueError(problem)
    texts = {name: by_mark(text, layout.mark) for name, text in texts.items()}
    row = read_row(TypedRow.of(texts), survey=survey, unit=unit, units=layout.units)
    if row.reading is None:
        raise ValueError(row.problem())
    return row.reading


def _width_problem(cells: Sequence[str], layout: Layout) -> str:
    needed = max(layout.places[name] for name in NEEDED) + 1
    most = layout.width or len(COLUMNS)
    if needed <= len(cells) <= most:
        return ""
    problem = f"Has {len(cells)} column{'' if len(cells) == 1 else 's'} where "
    problem += f"{needed} are needed: x, y, depth, PAR." if len(cells) < needed else f"{most} fit."
    if layout.delimiter == "," and len(cells) > most:
        problem += " With decimal commas, put semicolons or tabs between the columns."
    return problem
