"""A sheet of several afternoons: the days of its date column, and the lines of one of them."""

import datetime as dt
from collections import Counter

from apps.common.tables.date_order import date_order
from apps.common.tables.dates import read_day
from apps.common.tables.reading import (
    DELIMITERS,
    HEADER_WITHIN,
    UnreadableTable,
    filled_lines,
    heading_words,
    split_line,
    usual_delimiter,
)

DATE_WORDS = {"date", "day", "datum", "when"}
CELLS_MIN = 4


def days_of(text: str) -> dict[dt.date, int]:
    """Return how many lines of a table are of each day; {} where no column is headed as a date."""
    counts: Counter[dt.date] = Counter(day for day in line_days(text).values() if day)
    return dict(sorted(counts.items()))


def only_day(text: str, day: dt.date) -> str:
    """Return a table with the lines of other days left blank, so that numbers stay as they are."""
    days = line_days(text)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join(
        "" if days.get(number) not in (None, day) else line for number, line in enumerate(lines, 1)
    )


def line_days(text: str) -> dict[int, dt.date | None]:
    """Return {line's number: its day, None where it has none that can be read}."""
    try:
        lines = filled_lines(text)
    except UnreadableTable:
        return {}
    sign = usual_delimiter(
        [line for _, line in lines[: 2 * HEADER_WITHIN]], cells=CELLS_MIN, signs=DELIMITERS
    )
    rows = [(number, split_line(line, sign)) for number, line in lines]
    header, at = next(
        (
            (above, at)
            for above, (_, cells) in enumerate(rows[:HEADER_WITHIN])
            for at, cell in enumerate(cells)
            if set(heading_words(cell)) & DATE_WORDS and len(cells) > CELLS_MIN
        ),
        (-1, -1),
    )
    if header < 0:
        return {}
    dates = {n: cells[at] for n, cells in rows[header + 1 :] if at < len(cells) and cells[at]}
    order = date_order(dates.values())
    result: dict[int, dt.date | None] = {}
    for number, cell in dates.items():
        try:
            result[number] = read_day(cell, order=order, zone=dt.UTC)
        except ValueError:
            result[number] = None
    return result
