"""Reading a text as a table, pasted or from a file: its lines, its cells, what can't be read.

What a line means is up to who asks: readings of a survey, a logger's samples, entries of the
water log, corals. All end in rows, in lines with a sentence each, or in an UnreadableTable.
"""

import csv
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

from apps.photics.limits import IMPORT_BYTES_MAX, IMPORT_LINES_MAX

Row = TypeVar("Row")

# Signs between cells, and what to call them. Of two that fit alike the first is taken.
DELIMITERS = {"\t": "tabs", ";": "semicolons", ",": "commas", " ": "spaces"}
USUAL_DELIMITERS = ("\t", ";", ",")
NOT_TEXT = "This file is not text, nor a spreadsheet. Choose an .xlsx, .ods or CSV file."
# What stands in a cell that holds no value, small; errors of spreadsheets are among them.
MISSING = {
    "n/a", "na", "n.a.", "nan", "null", "none", "nil", "-", "--", "–", "—", "#n/a", "#value!",
    "#ref!", "#div/0!", "#name?", "#num!", "#null!", "#error!", "err:502",
}  # fmt: skip
# Excel's own first line names the sign between the cells; others write remarks above a table.
_SIGN_LINE = re.compile(r'^"?sep=.?"?$', re.IGNORECASE)
# A “#” right before a word may begin a name, so it must stand alone in its line.
_REMARK = re.compile(r"^\s*(?://|#+(?:\s|$)|#[^\W\d][^\t;,]*$)")
# A header stands at the top; a few title lines of a spreadsheet may stand above it.
HEADER_WITHIN = 10
# Lines that one quoted cell may run over.
CELL_LINES_MAX = 60
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_FILLED = re.compile(r"[^\s;,\"]")
_WORD = re.compile(r"[^\W\d_]+|[\"″]")


class UnreadableTable(ValueError):
    """Nothing of it can be read as a table; the message says why, for the keeper."""


@dataclass(frozen=True)
class BadLine:
    """A line that can't be read, and why."""

    number: int
    text: str
    problem: str


class LineOfText(Protocol):
    @property
    def text(self) -> str: ...


def too_many_lines(most: int) -> str:
    return (
        f"That is more than {most:,} lines, too many for one import. Nothing was read. "
        "Import a part of it."
    )


def too_large(most: int) -> str:
    return f"That is more than {most / 1e6:g} MB, too much for one table. Nothing was read."


def decode_table(data: bytes, *, bytes_max: int = IMPORT_BYTES_MAX) -> str:
    """Return the text of a file's bytes. Raises UnreadableTable for too large and for no text."""
    if len(data) > bytes_max:
        raise UnreadableTable(too_large(bytes_max))
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ["utf-16"]
    elif (wide := _utf16_unmarked(data[:400])) is not None:
        encodings = [wide]
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


def _utf16_unmarked(start: bytes) -> str | None:
    """Return how UTF-16 without its mark is written: one byte of a digit's or a sign's two is 0.

    Words of another alphabet have no zeros, but a table holds signs and digits beside them.
    """
    first, second = start[::2].count(0), start[1::2].count(0)
    for encoding, zeros, others in (("utf-16-le", second, first), ("utf-16-be", first, second)):
        if zeros > len(start) / 8 and others <= zeros / 10:
            return encoding
    return None


def _refuse_binary(text: str) -> None:
    if text.startswith("PK\x03\x04") or _CONTROL.search(text):
        raise UnreadableTable(NOT_TEXT)


def table_lines(
    text: str, *, lines_max: int = IMPORT_LINES_MAX, bytes_max: int = IMPORT_BYTES_MAX
) -> list[str]:
    """Return a text's lines, or raise UnreadableTable for too many and for no text."""
    if len(text) > bytes_max:
        raise UnreadableTable(too_large(bytes_max))
    lines = plain_lines(text)
    while len(lines) > 1 and not lines[-1]:
        lines.pop()
    if len(lines) > lines_max:
        raise UnreadableTable(too_many_lines(lines_max))
    _refuse_binary(text.removeprefix("\ufeff"))
    return lines


def plain_lines(text: str) -> list[str]:
    """Return a text's lines as an editor counts them."""
    # Not splitlines(): it also breaks at signs no editor counts as a new line.
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")


def filled_lines(
    text: str,
    *,
    first_number: int = 1,
    lines_max: int = IMPORT_LINES_MAX,
    bytes_max: int = IMPORT_BYTES_MAX,
) -> list[tuple[int, str]]:
    """Return (number, line) of each line that holds more than blanks, quotes and delimiters.

    Remarks (“# from my logger”) and a “sep=;” are passed over like blank lines. Raises
    UnreadableTable as `table_lines` does.
    """
    lines = enumerate(table_lines(text, lines_max=lines_max, bytes_max=bytes_max), first_number)
    return [(n, line) for n, line in lines if _FILLED.search(line) and not is_remark(line)]


def is_remark(line: str) -> bool:
    """Whether a line says something about a table and is none of its rows."""
    if _SIGN_LINE.match(line.strip()):
        return True
    return bool(_REMARK.match(line)) and not is_missing(re.split(r"[\t;,]", line)[0])


def is_missing(cell: str) -> bool:
    """Whether a cell says that it holds no value: n/a, a dash, a spreadsheet's #N/A."""
    return cell.strip().strip('"').lower() in MISSING


def without_missing(cell: str) -> str:
    return "" if is_missing(cell) else cell


def joined_lines(text: str) -> str:
    """Return a text with quoted cells that run over several lines put on one line each.

    A quote that begins no cell is a sign for inches. Where one is never ended, the text is left
    as it stands.
    """
    result: list[str] = []
    parts: list[str] = []
    for line in plain_lines(text):
        is_open = _ends_in_quotes(line, begun=bool(parts))
        parts.append(line)
        if not is_open:
            result.append(" ".join(parts))
            parts = []
        elif len(parts) > CELL_LINES_MAX:
            break
    return text if parts else "\n".join(result)


def _ends_in_quotes(line: str, *, begun: bool) -> bool:
    """Whether a quoted cell is still open behind a line; `begun` if one was open before it."""
    within, may_begin = begun, not begun
    # A doubled quote within a cell closes it and opens it again, which comes to the same.
    for sign in line:
        if sign == '"' and (within or may_begin):
            within, may_begin = not within, within
        else:
            may_begin = not within and (sign in ";,\t" or (may_begin and sign == " "))
    return within


def usual_delimiter(
    lines: Sequence[str], *, cells: int = 2, signs: Iterable[str] = USUAL_DELIMITERS
) -> str:
    """Return the sign that splits most lines into so many cells or more."""
    signs = list(signs)
    enough = {sign: sum(len(split_line(line, sign)) >= cells for line in lines) for sign in signs}
    best = max(signs, key=lambda sign: enough[sign])
    if enough[best]:
        return best
    return max(signs, key=lambda sign: sum(line.count(sign) for line in lines))


def rarest_delimiter(lines: Sequence[str]) -> str:
    """Return the first usual sign that stands anywhere: for tables with stray lines of words.

    A tab or a semicolon seldom stands in words, and commas may be decimal marks beside them.
    """
    there = (sign for sign in USUAL_DELIMITERS if any(sign in line for line in lines))
    return next(there, USUAL_DELIMITERS[-1])


def split_line(line: str, delimiter: str) -> list[str]:
    """Return a line's cells with quotes and spaces round them taken off."""
    if delimiter == " ":
        return line.split()
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        # A quote that never ends or a cell without end: taken as it stands.
        cells = line.split(delimiter)
    return [cell.strip() for cell in cells]


def without_empty_end(cells: Sequence[str], most: int) -> list[str]:
    """Return cells without the empty ones at the end of a row that are more than fit."""
    kept = list(cells)
    while len(kept) > most and not kept[-1]:
        kept.pop()
    return kept


def heading_words(cell: str) -> list[str]:
    """Return the words of a heading, small; a sign for inches is one."""
    return [word.lower() for word in _WORD.findall(cell)]


def read_each(
    lines: Iterable[tuple[int, str]], read: Callable[[str], Row]
) -> tuple[list[tuple[int, str, Row]], tuple[BadLine, ...]]:
    """Return (number, line, row) of each line that `read` takes, and those it refuses.

    It refuses a line by a ValueError with a sentence.
    """
    good, bad = [], []
    for number, line in lines:
        try:
            good.append((number, line, read(line)))
        except ValueError as problem:
            bad.append(BadLine(number, line, str(problem)))
    return good, tuple(bad)


def text_of(lines: Iterable[LineOfText], *, header: str = "") -> str:
    """Return a header and lines as they came: read again, they mean the same."""
    return "\n".join([*filter(None, [header]), *(line.text for line in lines)])
