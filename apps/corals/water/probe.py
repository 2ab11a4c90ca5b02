"""A probe's file: many readings a day, kept as the lowest, the mean and the highest of each."""

import datetime as dt
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from statistics import fmean

from apps.corals.water_models import WaterEvent

# More readings of one value on a day than this come from a probe. Our own choice: by hand nobody
# reads more often.
BY_HAND_MAX = 4
# A day whose readings span less than this is not over yet, or not the probe's first whole one [h].
WHOLE_HOURS = 18
LOWEST, MEAN, HIGHEST = "lowest of the day", "mean of the day", "highest of the day"
THINNED = (LOWEST, MEAN, HIGHEST)
MEAN_AT = dt.time(12)
# Temperatures without a unit: no reef is so hot in °C, nor so cold in °F. Salinity without one: as
# specific gravity it is near 1.
FAHRENHEIT_FROM, DENSITY_BELOW = 45.0, 2.0
PROBED = {
    WaterEvent.Kind.TEMPERATURE: {"temperature", "temp", "celsius", "fahrenheit"},
    WaterEvent.Kind.PH: {"ph"},
    WaterEvent.Kind.SALINITY: {"salinity", "sg"},
}
_UNITS = {
    unit: re.compile(pattern, re.IGNORECASE)
    for unit, pattern in {
        "°C": r"°\s*c\b|\bdeg(?:rees)?\s*c\b|[(\[]\s*c\s*[)\]]|\bcelsius\b",
        "°F": r"°\s*f\b|\bdeg(?:rees)?\s*f\b|[(\[]\s*f\s*[)\]]|\bfahrenheit\b",
        "ppt": r"\b(ppt|psu)\b",
        "mS/cm": r"\bms/cm\b",
        "SG": r"\bsg\b|\bspecific gravity\b",
    }.items()
}


@dataclass(frozen=True)
class Thinned:
    """WaterEvents to keep of many: those by hand as they are, days of a probe by three each."""

    events: tuple[WaterEvent, ...]
    days: int  # that were thinned
    unfinished: int  # days left out, since they are not whole


def probed_kind(words: Collection[str]) -> WaterEvent.Kind | None:
    """Return which value a column's heading names, by its words in lower case; None for none."""
    return next((kind for kind, known in PROBED.items() if known & set(words)), None)


def unit_in(heading: str) -> str:
    """Return the unit that a heading names, or nothing."""
    return next((unit for unit, pattern in _UNITS.items() if pattern.search(heading)), "")


def usual_unit(kind: str, value: float) -> str:
    """Return the unit of a reading that has none, by what such a value can be."""
    if kind == WaterEvent.Kind.TEMPERATURE:
        return "°F" if value >= FAHRENHEIT_FROM else "°C"
    if kind == WaterEvent.Kind.SALINITY:
        return "SG" if value < DENSITY_BELOW else "ppt"
    return "pH"


def thin_out(events: Sequence[WaterEvent], zone: dt.tzinfo) -> Thinned:
    """Return the Thinned of unsaved WaterEvents of one tank, days by its clock `zone`.

    Only plain readings are thinned: what has words, or could have hurt, is kept as it is.
    """
    days: dict[tuple[str, str, dt.date], list[WaterEvent]] = {}
    for event in events:
        if event.value is not None and not event.text and not event.could_hurt:
            on = event.happened_at.astimezone(zone).date()
            days.setdefault((event.kind, event.unit, on), []).append(event)
    probed = {key: rows for key, rows in days.items() if len(rows) > BY_HAND_MAX}
    left_out = {id(event) for rows in probed.values() for event in rows}
    kept = [event for event in events if id(event) not in left_out]
    whole = [rows for rows in probed.values() if span_hours(rows) >= WHOLE_HOURS]
    for rows in whole:
        kept += day_of(rows, zone)
    return Thinned(tuple(kept), len(whole), len(probed) - len(whole))


def span_hours(events: Sequence[WaterEvent]) -> float:
    """Return the hours from the first to the last of some WaterEvents."""
    moments = [event.happened_at for event in events]
    return (max(moments) - min(moments)) / dt.timedelta(hours=1)


def day_of(events: Sequence[WaterEvent], zone: dt.tzinfo) -> list[WaterEvent]:
    """Return three WaterEvents for the readings of one value on one day."""
    lowest = min(events, key=lambda event: (event.value, event.happened_at))
    highest = max(events, key=lambda event: (event.value, event.happened_at))
    day = lowest.happened_at.astimezone(zone).date()
    rows = (
        (LOWEST, lowest.value, lowest.happened_at),
        (MEAN, round(fmean(event.value for event in events), 3), noon_of(day, zone)),
        (HIGHEST, highest.value, highest.happened_at),
    )
    return [
        WaterEvent(
            tank=lowest.tank,
            happened_at=moment,
            kind=lowest.kind,
            value=value,
            unit=lowest.unit,
            text=text,
        )
        for text, value, moment in rows
    ]


def noon_of(day: dt.date, zone: dt.tzinfo) -> dt.datetime:
    """Return the noon of a date by a clock."""
    return dt.datetime.combine(day, MEAN_AT, tzinfo=zone)
