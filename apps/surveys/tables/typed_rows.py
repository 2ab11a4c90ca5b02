"""From what a keeper typed (or a spreadsheet wrote) in one row to numbers, and back to text."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number
from apps.common.units import format_length, parse_length_cm, typed_fraction
from apps.photics.ground.lengths import CM
from apps.surveys.models import Reading, Survey
from apps.surveys.recording import ReadingRow
from apps.surveys.tables.burst import parse_burst

# Column in the table, field of the reading, and what to call it in a sentence.
COLUMNS = {
    "x": ("x_cm", "from the left"),
    "y": ("y_cm", "from the front"),
    "depth": ("depth_cm", "depth"),
    "par": ("value_umol", "PAR"),
    "spread": ("spread_umol", "spread"),
}
LENGTHS = ("x", "y", "depth")


@dataclass
class TypedRow:
    """One row exactly as typed, what was read from it, and what is wrong with it."""

    x: str = ""
    y: str = ""
    depth: str = ""
    par: str = ""
    spread: str = ""
    client_id: str = ""
    errors: dict[str, str] = field(default_factory=dict)  # {column: sentence}
    reading: ReadingRow | None = None
    elsewhere: str = ""  # what another save holds at this row

    @classmethod
    def of(cls, texts: Mapping[str, str]) -> "TypedRow":
        """Return the row of {column: text}, its client id among them where it has one."""
        get = texts.get
        return cls(
            x=get("x", ""),
            y=get("y", ""),
            depth=get("depth", ""),
            par=get("par", ""),
            spread=get("spread", ""),
            client_id=get("client_id", ""),
        )

    def __post_init__(self) -> None:
        try:
            self.client_id = str(uuid.UUID(self.client_id))
        except ValueError:
            self.client_id = str(uuid.uuid4())

    @property
    def is_blank(self) -> bool:
        return not any(getattr(self, name).strip() for name in COLUMNS)

    @property
    def is_planned(self) -> bool:
        """A point that was not read yet: a place and no value."""
        return not self.is_blank and not self.par.strip() and not self.spread.strip()

    def cells(self) -> list[tuple[str, str, str, str]]:
        """Return (column, its name, text, sentence or "") for each cell, in order."""
        return [
            (name, _sentence_start(name), getattr(self, name), self.errors.get(name, ""))
            for name in COLUMNS
        ]

    def words(self) -> str:
        """Return the row as one line of text."""
        spread = f", spread {self.spread}" if self.spread.strip() else ""
        return f"{self.par} at {self.x}, {self.y}, {self.depth}{spread}"

    def problem(self) -> str:
        """Return all that is wrong with the row in one line."""
        return " ".join(_with_column(name, problem) for name, problem in self.errors.items())


def _with_column(name: str, problem: str) -> str:
    """Return a problem behind its column's name, unless it begins with that."""
    start = _sentence_start(name)
    return problem if problem.startswith(f"{start} ") else f"{start}: {problem}"


def _sentence_start(name: str) -> str:
    spoken = COLUMNS[name][1]
    return spoken[0].upper() + spoken[1:]


def read_row(
    row: TypedRow,
    *,
    survey: Survey,
    unit: str,
    units: Mapping[str, str] | None = None,
    stored: Mapping[str, ReadingRow] | None = None,
) -> TypedRow:
    """Fill row.reading with the numbers of a TypedRow, or row.errors with what stops it.

    Lengths are in `unit`; `units` may name another for single columns. Cells that show
    a reading of `stored` ({client id: ReadingRow}) untouched keep its exact number, so that
    saving one changed row does not round the others.
    """
    before = (stored or {}).get(row.client_id)
    shown = typed_from(before, unit=unit) if before else None
    values: dict[str, Any] = {}
    for name, (column, _) in COLUMNS.items():
        text = getattr(row, name)
        if shown and text == getattr(shown, name):
            values[column] = getattr(before, column)
            continue
        try:
            values[column] = _read_cell(name, text, unit=(units or {}).get(name) or unit)
        except UnreadableNumber as problem:
            row.errors[name] = str(problem)
    if isinstance(burst := values.get("value_umol"), tuple):
        # A spread in its own column is what the keeper says of it.
        values["value_umol"] = burst[0]
        if not row.spread.strip():
            values["spread_umol"] = burst[1]
    sound = Reading(survey=survey, **values).problems(unit=unit)
    for name, (column, _) in COLUMNS.items():
        if column in sound:
            row.errors.setdefault(name, sound[column])
    if not row.errors:
        row.reading = ReadingRow(client_id=uuid.UUID(row.client_id), **values)
    return row


def _read_cell(name: str, text: str, *, unit: str) -> float | tuple[float, float | None] | None:
    """Return the number of a cell; of a PAR cell (value, spread or None)."""
    if name == "spread" and not text.strip():
        return None
    if name in LENGTHS:
        return parse_length_cm(text, unit)
    return parse_burst(text) if name == "par" else parse_number(text, words=PAR_WORDS)


def typed_from(reading: ReadingRow, *, unit: str) -> TypedRow:
    """Return the TypedRow that shows a ReadingRow in `unit`."""
    spread = "" if reading.spread_umol is None else plain(reading.spread_umol)
    return TypedRow(
        x=length_text(reading.x_cm, unit),
        y=length_text(reading.y_cm, unit),
        depth=length_text(reading.depth_cm, unit),
        par=plain(reading.value_umol),
        spread=spread,
        client_id=str(reading.client_id),
    )


def length_text(value_cm: float, unit: str) -> str:
    """Return a length [cm] as the text of a cell: exact in cm, a fraction or 0.01 in inches."""
    if unit == CM:
        return plain(value_cm)
    return typed_fraction(value_cm) or format_length(value_cm, unit, places=2)


def plain(value: float) -> str:
    """Return the shortest text that reads back as the same number."""
    return repr(float(value)).removesuffix(".0")
