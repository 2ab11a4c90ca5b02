"""A table for other programs: its columns in words, its rows as plain values."""

import csv
import datetime as dt
import io
import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from apps.later.progress import Progress
from apps.outcomes.association.exporting import plain
from apps.tanks.models import Tank

Cell = str | float | int | bool | dt.date | dt.datetime | None
Row = Sequence[Cell]


@dataclass(frozen=True)
class Column:
    """One column; its type is a word of the Frictionless Table Schema."""

    name: str
    type: str
    means: str
    unit: str = ""


@dataclass(frozen=True)
class Table:
    """A table of a tank: its rows are read from the database when they are asked for."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: Callable[[Tank], Iterable[Row]]
    count: Callable[[Tank], int]  # of the rows, without making them


def followed(tables: Sequence[Table], tank: Tank, progress: Progress) -> list[Table]:
    """Return the tables, which now say how many rows of all were asked of them."""
    of = sum(table.count(tank) for table in tables)
    done = itertools.count()

    def follow(rows: Callable[[Tank], Iterable[Row]]) -> Callable[[Tank], Iterable[Row]]:
        def read(tank: Tank) -> Iterator[Row]:
            for row in rows(tank):
                progress(next(done), of, "rows")
                yield row

        return read

    return [replace(table, rows=follow(table.rows)) for table in tables]


def text(name: str, means: str) -> Column:
    return Column(name, "string", means)


def number(name: str, means: str, unit: str = "") -> Column:
    return Column(name, "number", means, unit)


def count(name: str, means: str) -> Column:
    return Column(name, "integer", means)


def flag(name: str, means: str) -> Column:
    return Column(name, "boolean", means)


def day(name: str, means: str) -> Column:
    return Column(name, "date", means)


def moment(name: str, means: str) -> Column:
    return Column(name, "datetime", f"{means}, in UTC")


def write_csv(table: Table, tank: Tank) -> str:
    """Return a table as CSV; a text that a spreadsheet would run as a formula is led by a '."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([column.name for column in table.columns])
    writer.writerows([csv_cell(cell) for cell in row] for row in table.rows(tank))
    return out.getvalue()


def csv_cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, int | float):
        return f"{value:.10g}"
    return plain(value)
