"""A keeper's table of history as lines and columns: where its header is, its one order of dates."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from apps.common.tables.date_order import DateOrder, date_order
from apps.common.tables.decimal_mark import has_decimal_commas
from apps.common.tables.reading import (
    HEADER_WITHIN,
    UnreadableTable,
    filled_lines,
    is_missing,
    joined_lines,
    split_line,
    usual_delimiter,
)
from apps.corals.history.columns import Column, guessed_role, read_columns
from apps.photics.ground.lengths import CM

DELIMITER_WITHIN = 40
EMPTY = "There are no lines in it. Paste a table or choose a file."


@dataclass(frozen=True)
class Answers:
    """What a keeper says of a table beside its cells; all may be left unsaid."""

    roles: Mapping[int, str] = field(default_factory=dict)  # by the column's index
    units: Mapping[int, str] = field(default_factory=dict)
    dates: str = ""  # a DateOrder
    length_unit: str = CM
    # By plain name: the key of a coral, "new:" with its group, or OUT.
    names: Mapping[str, str] = field(default_factory=dict)
    names_rest: str = ""
    # By plain words: a sign or a condition, WORDS or OUT.
    signs: Mapping[str, str] = field(default_factory=dict)
    conditions: Mapping[str, str] = field(default_factory=dict)
    # Keys of corals that were there before the day they are said to have come.
    earlier: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Line:
    """One line below the header: its number in the box, as it stands, and its cells by column."""

    number: int
    text: str
    cells: tuple[str, ...]
    has_time: bool = False  # whether its date has a clock behind it

    def cell(self, column: Column) -> str:
        """Return a cell, "" where it holds no value."""
        text = self.cells[column.index] if column.index < len(self.cells) else ""
        return "" if is_missing(text) else text


@dataclass(frozen=True)
class HistoryTable:
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    order: DateOrder | None
    title: tuple[str, ...] = ()  # lines above the header, which are not read

    @cached_property
    def _by_role(self) -> dict[str, list[Column]]:
        result: dict[str, list[Column]] = {}
        for column in self.columns:
            result.setdefault(column.role, []).append(column)
        return result

    def of_role(self, role: str) -> list[Column]:
        return self._by_role.get(role, [])

    def first(self, role: str) -> Column | None:
        return next(iter(self.of_role(role)), None)

    @cached_property
    def has_decimal_commas(self) -> bool:
        """Whether some water value has a comma that can only be its decimal mark."""
        columns = [c for c in self.columns if c.water_kind or c.role == "value"]
        return has_decimal_commas(line.cell(c) for line in self.lines for c in columns)

    def unread(self) -> list[Column]:
        """Return the columns that hold something and are left out."""
        return [column for column in self.columns if not column.role and column.samples]

    def text(self, line: Line, role: str) -> str:
        """Return what a line has in the columns of a role, parted by commas."""
        return ", ".join(filter(None, (line.cell(column) for column in self.of_role(role))))


def read_table(text: str, *, corals: Mapping[str, object], answers: Answers) -> HistoryTable:
    """Return the HistoryTable of a text; `corals` are the tank's by plain name.

    Raises UnreadableTable where there is no line, or too many.
    """
    filled = filled_lines(joined_lines(text))
    if not filled:
        raise UnreadableTable(EMPTY)
    sign = usual_delimiter([line for _, line in filled[:DELIMITER_WITHIN]])
    rows = [(number, line, tuple(split_line(line, sign))) for number, line in filled]
    at = _header_at([cells for *_, cells in rows], corals)
    header = rows[at][2] if at >= 0 else ()
    lines = tuple(Line(*row) for row in rows[at + 1 :])
    columns = read_columns(
        header,
        [line.cells for line in lines],
        corals=corals,
        roles=answers.roles,
        units=answers.units,
    )
    table = HistoryTable(tuple(columns), lines, None, tuple(row[1] for row in rows[: max(at, 0)]))
    dates = [line.cell(date) for line in lines] if (date := table.first("date")) else []
    return HistoryTable(table.columns, lines, date_order(dates, answers.dates), table.title)


def _header_at(rows: Sequence[Sequence[str]], corals: Mapping[str, object]) -> int:
    """Return the index of the header: the first line that names a column of dates, else none."""
    for at, cells in enumerate(rows[:HEADER_WITHIN]):
        if any(guessed_role(cell, (), corals) == "date" for cell in cells):
            return at
    first = rows[0]
    is_words = not any(any(sign.isdigit() for sign in cell) for cell in first)
    return 0 if is_words and len(rows) > 1 and sum(map(bool, first)) > 1 else -1
