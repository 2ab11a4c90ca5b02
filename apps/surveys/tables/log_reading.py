"""Reading a logger's table: a time and a PAR value a line. Pure parsing, no request in it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number, shorten
from apps.common.tables.date_order import (
    DateOrder,
    date_order,
    is_settled,
    orders_that_fit,
    with_iso_date,
)
from apps.common.tables.reading import (
    BadLine,
    UnreadableTable,
    filled_lines,
    rarest_delimiter,
    read_each,
    split_line,
)
from apps.photics.limits import ENTRY_YEAR_MIN, LOGGED_DAYS_MAX, PAR_MAX_UMOL

# ISO is tried first. A date with slashes is one by then, by the order of the whole table.
FORMATS = tuple(
    f"{date} {time}"
    for date in ("%d.%m.%Y", "%Y-%m-%d", "%Y/%m/%d")
    for time in ("%H:%M:%S", "%H:%M")
)
SECONDS_A_DAY = 86_400
# The lines that show what parts the cells.
DELIMITER_WITHIN = 20


class UnsureDates(UnreadableTable):
    """Its dates with slashes could have the day or the month first; that has to be said."""


@dataclass(frozen=True)
class ParsedLog:
    """Samples as (seconds since 1970, PAR), ascending, one an instant; and lines not read."""

    samples: tuple[tuple[float, float], ...]
    bad: tuple[BadLine, ...]
    repeated: int  # lines of an instant that another line had already


def parse_log(text: str, *, zone: dt.tzinfo, dates: str = "") -> ParsedLog:
    """Return the ParsedLog of a logger's text; times without an offset are by the tank's clock.

    `dates` says which stands first in dates with slashes (a DateOrder), "" leaves it to all lines
    together. Raises UnsureDates when they don't tell, and UnreadableTable when nothing of it is a
    time and a value.
    """
    lines = filled_lines(text)
    sign = rarest_delimiter([line for _, line in lines[:DELIMITER_WITHIN]])
    order = _order([line for _, line in lines], sign, dates)
    good, bad = read_each(lines, lambda line: _read(line, sign, zone, order))
    samples: dict[float, float] = {}
    for _, _, (instant, value) in good:
        samples.setdefault(instant, value)
    if len(samples) < 2:
        raise UnreadableTable(
            "Fewer than two lines hold a time and a PAR value, such as “2026-03-01 14:30;212”."
        )
    days = (max(samples) - min(samples)) / SECONDS_A_DAY
    if days > LOGGED_DAYS_MAX:
        raise UnreadableTable(
            f"From the first to the last line it is {days:,.0f} days; a series spans "
            f"{LOGGED_DAYS_MAX} at most. Is a date slipped?"
        )
    # A heading is no bad line, but a first line with a date is none.
    wrong = [b for b in bad if b.number != lines[0][0] or b.text.lstrip(' "')[:1].isdigit()]
    return ParsedLog(tuple(sorted(samples.items())), tuple(wrong), len(good) - len(samples))


def _order(lines: Sequence[str], sign: str, dates: str) -> DateOrder | None:
    """Return the DateOrder of all lines' dates, None where none is needed, or raise UnsureDates."""
    texts = [cells[0] for line in lines if len(cells := _cells(line, sign)) in (2, 3)]
    order = date_order(texts, dates)
    if order is None and not is_settled(texts):
        raise UnsureDates(
            "Every date can be read with the day first and with the month first. Choose which."
            if orders_that_fit(texts)
            else "Some dates have the day first and some the month. Choose which is right; lines "
            "with the other are left out."
        )
    return order


def _cells(line: str, sign: str) -> list[str]:
    return [cell for cell in split_line(line, sign) if cell]


def _read(line: str, sign: str, zone: dt.tzinfo, order: DateOrder | None) -> tuple[float, float]:
    cells = _cells(line, sign)
    if not 2 <= len(cells) <= 3:
        raise ValueError(f"Has {len(cells)} columns where a time and a PAR value are needed.")
    instant = _instant(with_iso_date(" ".join(cells[:-1]), order), zone)
    value = parse_number(cells[-1], words=PAR_WORDS)
    if not 0 <= value <= PAR_MAX_UMOL:
        raise UnreadableNumber(f"PAR is between 0 and {PAR_MAX_UMOL:g}.")
    return instant, value


def _instant(text: str, zone: dt.tzinfo) -> float:
    """Return seconds since 1970 of a time as loggers write it."""
    moment = None
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        for form in FORMATS:
            try:
                moment = dt.datetime.strptime(text, form)
                break
            except ValueError:
                continue
    if moment is None:
        raise ValueError(f"“{shorten(text)}” is not a time, such as 2026-03-01 14:30.")
    if not ENTRY_YEAR_MIN <= moment.year <= 9998:
        raise ValueError(f"The year is {ENTRY_YEAR_MIN} or later.")
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).timestamp()
