"""A date with or without a clock, as people, spreadsheets, loggers and probes write it."""

import datetime as dt
import re

from apps.common.numbers import shorten
from apps.common.tables.date_order import DateOrder, with_iso_date
from apps.photics.limits import ENTRY_YEAR_MIN

# A day without a clock is taken as its noon, so that no time zone moves it to another day.
NOON = dt.time(12)
# Seconds and milliseconds since 1970, from 2001 on.
UNIX_DIGITS = {10: 1, 13: 1000}
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?!\d)")
_COMPACT = re.compile(r"^(\d{4})(\d{2})(\d{2})(?!\d)")
_POINTS = re.compile(r"^(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})(?!\d)")
_DAY_NAMED = re.compile(
    r"^(\d{1,2})(?:st|nd|rd|th|\.)?[\s-]+([a-z]{3,9})\.?[,\s-]+(\d{4}|\d{2})(?!\d)", re.IGNORECASE
)
_NAMED_DAY = re.compile(
    r"^([a-z]{3,9})\.?[\s-]+(\d{1,2})(?:st|nd|rd|th)?[,\s-]+(\d{4}|\d{2})(?!\d)", re.IGNORECASE
)
# A spreadsheet's own number of a day, with a part of a day behind it: from 1990 to 2099.
_SERIAL = re.compile(r"^(3[3-9]\d{3}|[4-6]\d{4}|7[0-2]\d{3})(?:[.,](\d+))?$")
SERIAL_START = dt.date(1899, 12, 30)
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+", re.IGNORECASE)
_CLOCK = re.compile(
    r"^[T,\s]*(\d{1,2})(?:[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?)?\s*([ap])?\.?(?:m\.?)?"
    r"\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})?$",
    re.IGNORECASE,
)


def read_moment(text: str, *, order: DateOrder | None, zone: dt.tzinfo) -> dt.datetime:
    """Return the moment a text names; noon of a day without a clock, by the clock of `zone`.

    `order` is that of the whole table's dates such as 3/4/2026. Raises ValueError with a sentence.
    """
    raw = text.strip()
    day, rest = _day(raw, order)
    if not ENTRY_YEAR_MIN <= day.year <= 9998:
        raise ValueError(f"The year is {ENTRY_YEAR_MIN} or later.")
    if not rest.strip(" ,T"):
        return dt.datetime.combine(day, NOON, zone)
    clock = _CLOCK.match(rest)
    moment = clock and _with_clock(day, clock, zone)
    if moment is None:
        raise ValueError(f"“{shorten(raw)}” is not a date, such as 2026-03-01 14:30.")
    return moment


def tells_time(text: str, *, order: DateOrder | None) -> bool:
    """Return whether a clock stands behind the date of a text that `read_moment` reads."""
    return bool(_day(text.strip(), order)[1].strip(" ,T"))


def read_day(text: str, *, order: DateOrder | None, zone: dt.tzinfo) -> dt.date:
    """Return the day a text names, by the clock of `zone`. Raises ValueError with a sentence."""
    return read_moment(text, order=order, zone=zone).astimezone(zone).date()


def read_unix(text: str) -> dt.datetime | None:
    """Return the moment that seconds or milliseconds since 1970 name, None for any other text."""
    whole = text.strip().partition(".")[0]
    if not (whole.isascii() and whole.isdigit() and len(whole) in UNIX_DIGITS):
        return None
    return dt.datetime.fromtimestamp(int(whole) / UNIX_DIGITS[len(whole)], dt.UTC)


def _day(raw: str, order: DateOrder | None) -> tuple[dt.date, str]:
    """Return the day at the start of a text, and what stands behind it."""
    if serial := _SERIAL.match(raw):
        return _of_serial(serial)
    raw = with_iso_date(_WEEKDAY.sub("", raw), order)
    year = month = day = ""
    if (match := _ISO.match(raw)) or (match := _COMPACT.match(raw)):
        year, month, day = match.groups()
    elif match := _POINTS.match(raw):
        day, month, year = match.groups()
    elif match := _DAY_NAMED.match(raw):
        day, month, year = match[1], _month(match[2]), match[3]
    elif match := _NAMED_DAY.match(raw):
        month, day, year = _month(match[1]), match[2], match[3]
    try:
        if match is None:
            raise ValueError
        date = dt.date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        raise ValueError(f"“{shorten(raw)}” is not a date, such as 2026-03-01.") from None
    return date, raw[match.end() :]


def _of_serial(match: re.Match[str]) -> tuple[dt.date, str]:
    """Return the day that a spreadsheet's number means, and the clock that its decimals do."""
    days, part = match.groups()
    seconds = round(float(f"0.{part or 0}") * 24 * 60 * 60)
    moment = dt.datetime.combine(SERIAL_START, dt.time()) + dt.timedelta(int(days), seconds)
    return moment.date(), f" {moment:%H:%M:%S}" if part else ""


def _month(word: str) -> str:
    """Return a month's number by the first letters of its English name, "" for no month."""
    at = [number for number, name in enumerate(MONTHS, 1) if word.lower().startswith(name)]
    return str(at[0]) if at else ""


def _with_clock(day: dt.date, clock: re.Match[str], zone: dt.tzinfo) -> dt.datetime | None:
    """Return a day at the time of a match of `_CLOCK`, None where no clock shows it."""
    hour, minute, second, half, offset = clock.groups()
    if minute is None and half is None:
        return None
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    try:
        time = dt.time(hours, int(minute or 0), int(second or 0))
    except ValueError:
        return None
    return dt.datetime.combine(day, time, _offset(offset) or zone)


def _offset(text: str | None) -> dt.tzinfo | None:
    if not text:
        return None
    if text.upper() in ("Z", "UTC", "GMT"):
        return dt.UTC
    sign, hours, minutes = text[0], int(text[1:3]), int(text[-2:])
    if hours > 23 or minutes > 59:
        return None
    ahead = dt.timedelta(hours=hours, minutes=minutes)
    return dt.timezone(-ahead if sign == "-" else ahead)
