"""Reading a pasted block or a file of readings: pure parsing, no request in it.

`decode_table` turns bytes into text, `parse_table` text into good rows and bad lines.
Whatever the text is, the answer is one of these or an UnreadableTable with a sentence.
"""

import csv
import re
from dataclasses import dataclass, replace

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.photics.limits import IMPORT_BYTES_MAX, IMPORT_LINES_MAX
from apps.surveys.recording import ReadingRow
from apps.surveys.tables.decimal_mark import by_mark, has_decimal_commas, two_ways_problem
from apps.surveys.tables.headings import (
    WORDS,
    is_numbering,
    is_plain_name,
    read_headings,
    unit_word,
)
from apps.surveys.tables.typed_rows import COLUMNS, LENGTHS, TypedRow, read_row

NEEDED = ("x", "y", "depth", "par")
# Columns offered for matching by hand; a wider table is a mistake.
COLUMNS_MOST = 30
# A header stands at the top; a few title lines of a spreadsheet may stand above it.
HEADER_WITHIN = 10
DELIMITERS = {"\t": "tabs", ";": "semicolons", ",": "commas", " ": "spaces"}
TOO_MANY_LINES = (
    f"That is more than {IMPORT_LINES_MAX:,} lines, too many for one import. "
    "Nothing was read. Import a part of it."
)
TOO_LARGE = (
    f"That is more than {IMPORT_BYTES_MAX / 1e6:g} MB, too much for a table of readings. "
    "Nothing was read."
)
NOT_TEXT = (
    "This file is not text. Save the table as CSV in your spreadsheet, then choose that file."
)
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_FILLED = re.compile(r"[^\s;,\"]")


class UnreadableTable(ValueError):
    """Nothing of it can be read as a table; the message says why, for the keeper."""


class UnsureColumns(UnreadableTable):
    """It is a table, but which column is which has to be said by hand."""


@dataclass(frozen=True)
class Layout:
    """How lines fall into columns: where each stands, and the unit its heading names."""

    delimiter: str
    places: dict  # {column: index}
    units: dict  # {column: unit}
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
class BadLine:
    number: int
    text: str
    problem: str


@dataclass(frozen=True)
class ParsedTable:
    layout: Layout
    good: tuple
    bad: tuple

    @property
    def split_by(self):
        return DELIMITERS[self.layout.delimiter]

    def good_text(self):
        """Return the header and the good lines as they came: read again, they mean the same."""
        head = [self.layout.header] if self.layout.header else []
        return "\n".join([*head, *(line.text for line in self.good)])

    def bad_text(self):
        return "\n".join(line.text for line in self.bad)


def decode_table(data):
    """Return the text of a file's bytes. Raises UnreadableTable for too large and for no text."""
    if len(data) > IMPORT_BYTES_MAX:
        raise UnreadableTable(TOO_LARGE)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ["utf-16"]
    elif data[1:40:2].count(0) > len(data[1:40:2]) / 2:
        # Some spreadsheets write UTF-16 with no mark: every other byte of plain digits is 0.
        encodings = ["utf-16-le"]
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        _refuse_binary(text)
        return text
    raise UnreadableTable(NOT_TEXT)


def _refuse_binary(text):
    if text.startswith("PK\x03\x04") or _CONTROL.search(text):
        raise UnreadableTable(NOT_TEXT)


def parse_table(text, *, survey, unit, first_number=1, match=None, mark=""):
    """Return the ParsedTable of a text of readings for a survey; lengths in `unit` unless told.

    Blank lines are passed over. `match` says by hand which column is which: {column: index},
    and `mark` what decimals follow; without it a number that can be read two ways is a bad line.
    Raises UnreadableTable when the text is too long, is not text or is empty, and
    UnsureColumns when a header, or the match, lacks a column.
    """
    lines = table_lines(text)
    filled = [
        (number, line)
        for number, line in enumerate(lines, start=first_number)
        if _FILLED.search(line)
    ]
    if not filled:
        raise UnreadableTable("There are no lines in it. Paste or choose a table of readings.")
    texts = [line for _, line in filled]
    layout = _lay_out_by_hand(texts, match) if match else _lay_out(texts)
    layout = replace(layout, mark=mark, has_decimal_commas=_has_decimal_commas(texts, layout))
    good, bad = [], []
    for index, (number, line) in enumerate(filled):
        if index == layout.header_index:
            continue
        row, problem = _read_line(line, index, layout=layout, survey=survey, unit=unit)
        if problem:
            bad.append(BadLine(number, line, problem))
        else:
            good.append(GoodLine(number, line, row))
    return ParsedTable(layout, tuple(good), tuple(bad))


def table_lines(text):
    """Return a text's lines, or raise UnreadableTable for too many and for no text."""
    if len(text) > IMPORT_BYTES_MAX:
        raise UnreadableTable(TOO_LARGE)
    # Not splitlines(): it also breaks at signs no editor counts as a new line.
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if text.rstrip("\n").count("\n") >= IMPORT_LINES_MAX:
        raise UnreadableTable(TOO_MANY_LINES)
    _refuse_binary(text)
    return text.split("\n")


def _lay_out(lines):
    """Return the Layout of the filled lines, by a header if there is one, by order if not."""
    delimiter = _delimiter(lines[: 2 * HEADER_WITHIN])
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


def _refuse_contested(contested, cells):
    """Raise UnsureColumns where two headings or more could be one column."""
    for name, ats in contested.items():
        which = " and ".join(f"“{shorten(cells[at])}”" for at in ats)
        raise UnsureColumns(f"{which} could each be {COLUMNS[name][1]}. Say which is which.")


def _refuse_numbering(places, cells, below, delimiter):
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


def _has_decimal_commas(lines, layout):
    rows = (split_line(line, layout.delimiter) for line in lines)
    return has_decimal_commas(
        row[at] for row in rows for at in layout.places.values() if at < len(row)
    )


def _unknown_header(lines, delimiter):
    """Return the line of words right above the first numbers that names as many columns."""
    above = ""
    for line in lines[: HEADER_WITHIN + 1]:
        cells = split_line(line, delimiter)
        if any(_is_number(cell) for cell in cells):
            names = [cell for cell in split_line(above, delimiter) if WORDS.search(cell)]
            return above if len(names) >= len(NEEDED) and len(names) == len(cells) else ""
        above = line
    return ""


def _lay_out_by_hand(lines, match):
    """Return the Layout of a match; the first line is a header when it has no numbers there."""
    lacking = [name for name in NEEDED if name not in match]
    if lacking:
        raise UnsureColumns(f"Say which column holds {' and '.join(lacking)}.")
    delimiter = _delimiter(lines[: 2 * HEADER_WITHIN])
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


def seen_columns(text, match=None):
    """Return the SeenColumns of a text's first lines, each with the column it is taken for."""
    lines = [line for line in table_lines(text)[: 4 * HEADER_WITHIN] if _FILLED.search(line)]
    delimiter = _delimiter(lines[: 2 * HEADER_WITHIN])
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


def _delimiter(lines):
    """Return the sign that splits most lines into four cells or more; ties go to the first."""
    enough = {
        sign: sum(len(split_line(line, sign)) >= len(NEEDED) for line in lines)
        for sign in DELIMITERS
    }
    best = max(enough, key=enough.get)
    if enough[best]:
        return best
    return max(DELIMITERS, key=lambda sign: sum(line.count(sign) for line in lines))


def split_line(line, delimiter):
    """Return a line's cells with quotes and spaces round them taken off."""
    if delimiter == " ":
        return line.split()
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        # A quote that never ends or a cell without end: taken as it stands.
        cells = line.split(delimiter)
    return [cell.strip() for cell in cells]


def _is_number(cell):
    try:
        parse_number(cell)
    except UnreadableNumber:
        return False
    return True


def _read_line(line, index, *, layout, survey, unit):
    """Return (ReadingRow, "") or (None, what is wrong with the line)."""
    if index < layout.header_index:
        return None, "Stands above the header, so it is not read."
    cells = split_line(line, layout.delimiter)
    wrong_width = _width_problem(cells, layout)
    if wrong_width:
        return None, wrong_width
    texts = {name: cells[at] for name, at in layout.places.items() if at < len(cells)}
    if layout.has_decimal_commas and not layout.mark:
        told = filter(None, map(two_ways_problem, texts.values()))
        if problem := " ".join(told):
            return None, problem
    texts = {name: by_mark(text, layout.mark) for name, text in texts.items()}
    row = read_row(TypedRow(**texts), survey=survey, unit=unit, units=layout.units)
    return (row.reading, "") if row.reading else (None, row.problem())


def _width_problem(cells, layout):
    needed = max(layout.places[name] for name in NEEDED) + 1
    most = layout.width or len(COLUMNS)
    while len(cells) > most and not cells[-1]:
        cells.pop()
    if needed <= len(cells) <= most:
        return ""
    told = f"Has {len(cells)} column{'' if len(cells) == 1 else 's'} where "
    told += f"{needed} are needed: x, y, depth, PAR." if len(cells) < needed else f"{most} fit."
    if layout.delimiter == "," and len(cells) > most:
        told += " With decimal commas, put semicolons or tabs between the columns."
    return told
