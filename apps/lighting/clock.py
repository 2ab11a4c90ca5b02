"""True time against the clock on the wall: a calendar day of a time zone as even stretches."""

import datetime as dt
from functools import lru_cache

from apps.drawing.time_axis import midnight
from apps.photics.day.curve import Stretch, stretches

# No zone changes its clock twice within so short a time [s].
LOOK_EVERY_S = 3600


def day_ends(day: dt.date, zone: dt.tzinfo) -> tuple[dt.datetime, dt.datetime]:
    """Return the first moment of a date and of the next one, aware: 23 to 25 hours apart."""
    return midnight(day, zone), midnight(day + dt.timedelta(days=1), zone)


def local_stretches(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> tuple[Stretch, ...]:
    """Return the photics Stretches of the true time between two aware moments in a zone."""
    first, last = start.timestamp(), end.timestamp()
    return stretches(first, last, clock_offsets(first, last, zone))


def clock_offsets(first: float, last: float, zone: dt.tzinfo) -> list[tuple[float, float]]:
    """Return (instant, local clock minus UTC) wherever the clock is set, both in seconds."""
    years = range(utc(first).year, utc(last).year + 1)
    turns = [turn for year in years for turn in clock_turns(year, zone) if first < turn[0] < last]
    return [(first, offset_s(first, zone)), *turns]


def utc(instant: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(instant, dt.UTC)


# A year of a zone is looked through once, hour by hour.
@lru_cache(maxsize=1024)
def clock_turns(year: int, zone: dt.tzinfo) -> tuple[tuple[float, float], ...]:
    """Return (instant, local clock minus UTC from then on) of each turn in a year of UTC [s]."""
    first, last = (dt.datetime(y, 1, 1, tzinfo=dt.UTC).timestamp() for y in (year, year + 1))
    result: list[tuple[float, float]] = []
    at, offset = first, offset_s(first, zone)
    while at < last:
        after = at + LOOK_EVERY_S
        if offset_s(after, zone) != offset:
            turn = turning_point(at, after, zone)
            offset = offset_s(turn, zone)
            result.append((turn, offset))
        at = after
    return tuple(result)


def turning_point(before: float, after: float, zone: dt.tzinfo) -> int:
    """Return the first whole second at which the clock shows the offset of `after`."""
    low, high = int(before), int(after)
    new = offset_s(after, zone)
    while high - low > 1:
        middle = (low + high) // 2
        if offset_s(middle, zone) == new:
            high = middle
        else:
            low = middle
    return high


def offset_s(instant: float, zone: dt.tzinfo) -> float:
    """Return local clock minus UTC at an instant [s since 1970]."""
    return (dt.datetime.fromtimestamp(instant, zone).utcoffset() or dt.timedelta()).total_seconds()


def clock_changes(
    day: dt.date, zone: dt.tzinfo, *, within_days: int
) -> list[tuple[dt.date, float]]:
    """Return the dates from `day` on whose day is not 24 hours long, as (date, hours)."""
    result = []
    for n in range(within_days):
        date = day + dt.timedelta(days=n)
        start, end = day_ends(date, zone)
        hours = (end.timestamp() - start.timestamp()) / 3600
        if hours != 24:
            result.append((date, hours))
    return result
