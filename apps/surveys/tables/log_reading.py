"""Reading a logger's table: a time and a PAR value a line. Pure parsing, no request in it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number
from apps.common.tables.date_order import DateOrder, date_order, is_settled, orders_that_fit
from apps.common.tables.dates import read_moment, read_unix, tells_time
from apps.common.tables.reading import (
    BadLine,
    UnreadableTable,
    filled_lines,
    is_missing,
    rarest_delimiter,
    read_each,
    split_line,
)
from apps.photics.limits import (
    ENTRY_YEAR_MIN,
    LOG_BYTES_MAX,
    LOG_LINES_MAX,
    LOG_SAMPLES_MAX,
    LOGGED_DAYS_MAX,
    PAR_MAX_UMOL,
)
from apps.surveys.tables.log_columns import LogColumns, log_columns

SECONDS_A_DAY = 86_400
# The lines that show what parts the cells.
DELIMITER_WITHIN = 20
# Steps to which a long series is thinned, each the mean of what lies in it [min].
STEPS_MIN = (1, 2, 3, 5, 10, 15, 20, 30, 60)


class UnsureDates(UnreadableTable):
    """Its dates could have the day or the month first; that has to be said."""


@dataclass(frozen=True)
class ParsedLog:
    """Samples as (seconds since 1970, PAR), ascending, one an instant; and lines not read."""

    samples: tuple[tuple[float, float], ...]
    bad: tuple[BadLine, ...]
    repeated: int  # lines of an instant that another line had already
    thinned_min: int = 0  # the step of the means kept of a long series [min]; 0 for all of it
    given: int = 0  # samples before it was thinned


def parse_log(text: str, *, zone: dt.tzinfo, dates: str = "") -> ParsedLog:
    """Return the ParsedLog of a logger's text; times without an offset are by the tank's clock.

    `dates` says which stands first in dates such as 3/4/2026 (a DateOrder), "" leaves it to all
    lines together. Raises UnsureDates when they don't tell, and UnreadableTable when nothing of
    it is a time and a value, or more than one column could be the PAR.
    """
    lines = filled_lines(text, lines_max=LOG_LINES_MAX, bytes_max=LOG_BYTES_MAX)
    sign = rarest_delimiter([line for _, line in lines[:DELIMITER_WITHIN]])
    columns = log_columns([line for _, line in lines], sign)
    below = lines[columns.above :]
    order = _order([line for _, line in below], sign, columns, dates)
    good, bad = read_each(below, lambda line: _read(line, sign, columns, zone, order))
    samples: dict[float, float] = {}
    for _, _, (instant, value) in good:
        samples.setdefault(instant, value)
    if len(samples) < 2:
        few = "Fewer than two lines have a time and a PAR value, such as “2026-03-01 14:30;212”."
        # The last line is none of its headings.
        raise UnreadableTable(f"{few} The last line: {bad[-1].problem}" if bad else few)
    days = (max(samples) - min(samples)) / SECONDS_A_DAY
    if days > LOGGED_DAYS_MAX:
        raise UnreadableTable(
            f"From the first to the last line it is {days:,.0f} days; a series spans "
            f"{LOGGED_DAYS_MAX} at most. Is a date slipped?"
        )
    kept, step_min = thinned(sorted(samples.items()))
    # A heading is no bad line, but a first line with a date is none.
    wrong = [b for b in bad if b.number != lines[0][0] or b.text.lstrip(' "')[:1].isdigit()]
    repeated = len(good) - len(samples)
    return ParsedLog(kept, tuple(wrong), repeated, step_min, len(samples))


def thinned(samples: Sequence[tuple[float, float]]) -> tuple[tuple[tuple[float, float], ...], int]:
    """Return the samples, of a long series the means over even steps, and the step [min].

    A mean over a step keeps the day's dose. The step is 0 where all are kept.
    """
    if len(samples) <= LOG_SAMPLES_MAX:
        return tuple(samples), 0
    times, values = np.array(samples, dtype=float).T
    for step_min in STEPS_MIN:
        _, starts = np.unique(times // (60 * step_min), return_index=True)
        if len(starts) <= LOG_SAMPLES_MAX:
            break
    counts = np.diff(np.append(starts, len(times)))
    means = [np.add.reduceat(row, starts) / counts for row in (times, values)]
    return tuple(zip(*(row.tolist() for row in means), strict=True)), step_min


def _order(lines: Sequence[str], sign: str, columns: LogColumns, dates: str) -> DateOrder | None:
    """Return the DateOrder of all lines' dates, None where none is needed, or raise UnsureDates."""
    at = columns.times[0]
    rows = (split_line(line, sign) for line in lines)
    texts = [cells[at] for cells in rows if at < len(cells)]
    order = date_order(texts, dates)
    if order is None and not is_settled(texts):
        raise UnsureDates(
            "Every date can be read with the day first and with the month first. Choose which."
            if orders_that_fit(texts)
            else "Some dates have the day first and some the month. Choose which is right; lines "
            "with the other are left out."
        )
    return order


def _read(
    line: str, sign: str, columns: LogColumns, zone: dt.tzinfo, order: DateOrder | None
) -> tuple[float, float]:
    """Return (seconds since 1970, PAR) of a line, or raise ValueError with a sentence."""
    cells = split_line(line, sign)
    needed = max(*columns.times, columns.par) + 1
    if len(cells) < needed:
        raise ValueError(f"Has {len(cells)} columns where a time and a PAR value are needed.")
    text = " ".join(cells[at] for at in columns.times if cells[at])
    unix = read_unix(text)
    if unix and unix.year < ENTRY_YEAR_MIN:
        raise ValueError(f"The year is {ENTRY_YEAR_MIN} or later.")
    instant = (unix or _instant(text, order, zone)).timestamp()
    if is_missing(cells[columns.par]):
        raise ValueError("Has no PAR value.")
    value = parse_number(cells[columns.par], words=PAR_WORDS)
    if not 0 <= value <= PAR_MAX_UMOL:
        raise UnreadableNumber(f"PAR is between 0 and {PAR_MAX_UMOL:g}.")
    return instant, value


def _instant(text: str, order: DateOrder | None, zone: dt.tzinfo) -> dt.datetime:
    """Return the moment of a line; the quickest way first, since a series has many lines.

    A day alone is its midnight: spreadsheets write that one without its clock.
    """
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        moment = read_moment(text, order=order, zone=zone)
        if not tells_time(text, order=order):
            moment = moment.replace(hour=0)
    if not ENTRY_YEAR_MIN <= moment.year <= 9998:
        raise ValueError(f"The year is {ENTRY_YEAR_MIN} or later.")
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)
