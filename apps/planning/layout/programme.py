"""The day of a planned rig: times and levels to type into any lamp, and the rise to them."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.photics.day.acclimation import PACES, ramp
from apps.photics.layout.hanging import Layout
from apps.planning.layout.start_level import StartLevel
from apps.planning.stored_layout import StoredQuestion

# A ramp at each end of the day [h], and when the day begins: our own choice, as most keepers are
# home in the evening.
RAMP_HOURS = 1.5
FIRST_LIGHT = dt.time(10, 0)
# Parts of a ramp that are printed: its ends and its middle.
RAMP_PARTS = (0.0, 0.5, 1.0)
# Other lengths of full light that are told beside the plan's own [h]: our own choice.
OTHER_HOURS = (6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)
# How a rise to the planned levels is spaced: as an acclimation is proposed (`planning/models.py`).
RISE_RATE, RISE_EVERY_DAYS, RISE_PACE = 0.15, 3, "typical"
HOURS_A_DAY = 24.0
MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True)
class ProgrammeRow:
    """One time of the day and the level of each kind then [%], in the end and at the start."""

    at: str
    levels: tuple[int, ...]
    start_levels: tuple[int, ...]
    words: str


@dataclass(frozen=True)
class OtherDay:
    """Hours of full light [h] and the levels [%] that give the same daily light."""

    full_hours: float
    levels: tuple[int, ...]


@dataclass(frozen=True)
class RiseRow:
    """A step of the rise: days after hanging [d] and the level of each kind [%]."""

    day: int
    levels: tuple[int, ...]


@dataclass(frozen=True)
class Programme:
    """The day of a layout: rows of times, other days of the same light, and the rise."""

    kinds: tuple[str, ...]
    channels: tuple[tuple[str, tuple[str, ...]], ...]  # of which kind, the names of its channels
    rows: tuple[ProgrammeRow, ...]
    others: tuple[OtherDay, ...]
    rise: tuple[RiseRow, ...]
    full_hours: float
    ramp_hours: float


def programme(
    stored: StoredQuestion,
    layout: Layout,
    start: StartLevel,
    *,
    first_light: dt.time = FIRST_LIGHT,
    channels: Sequence[tuple[str, tuple[str, ...]]] = (),
) -> Programme:
    """Return the Programme of a layout that gives its plan's hours of full light a day."""
    full = stored.day_hours
    ramp_hours = usual_ramp_hours(full)
    levels = [kind.level for kind in layout.hung]
    return Programme(
        kinds=tuple(stored.question.candidates[kind.candidate].name for kind in layout.hung),
        channels=tuple(channels),
        rows=tuple(day_rows(levels, start, full, ramp_hours, first_light)),
        others=other_days(levels, full),
        rise=rise_rows(levels, start),
        full_hours=full,
        ramp_hours=ramp_hours,
    )


def usual_ramp_hours(full_hours: float) -> float:
    """Return the hours of a ramp at each end of a day of so many hours of full light [h].

    A ramp is worth half its hours, so two of them add one ramp's length to the day, which ends.
    """
    return max(min(RAMP_HOURS, full_hours, HOURS_A_DAY - full_hours), 0.0)


def day_rows(
    levels: Sequence[float],
    start: StartLevel,
    full_hours: float,
    ramp_hours: float,
    first_light: dt.time,
) -> list[ProgrammeRow]:
    """Return the rows of a day with a straight ramp at each end, `levels` from 0 to 1."""
    day_hours = full_hours + ramp_hours
    begin = first_light.hour * 60 + first_light.minute
    up = [(begin + 60 * ramp_hours * part, part) for part in RAMP_PARTS]
    end = begin + 60 * day_hours
    down = [(end - 60 * ramp_hours * part, part) for part in reversed(RAMP_PARTS)]
    words = ("first light", "", "full light", "ramp down begins", "", "lights off")
    return [
        ProgrammeRow(
            at=clock(minute),
            levels=tuple(round(100 * level * part) for level in levels),
            start_levels=tuple(round(100 * level * start.share * part) for level in levels),
            words=word,
        )
        for (minute, part), word in zip([*up, *down], words, strict=True)
    ]


def clock(minute: float) -> str:
    """Return a minute of the day as on a clock."""
    whole = round(minute) % MINUTES_A_DAY
    return f"{whole // 60:02d}:{whole % 60:02d}"


def other_days(levels: Sequence[float], full_hours: float) -> tuple[OtherDay, ...]:
    """Return days of other hours [h] whose levels, 0 to 1, give the same daily light."""
    days = []
    for hours in OTHER_HOURS if full_hours > 0 else ():
        scaled = [level * full_hours / hours for level in levels]
        if abs(hours - full_hours) > 0.25 and max(scaled) <= 1.0:
            days.append(OtherDay(hours, tuple(round(100 * level) for level in scaled)))
    return tuple(days)


def rise_rows(levels: Sequence[float], start: StartLevel) -> tuple[RiseRow, ...]:
    """Return the steps from the start levels to the planned ones, 0 to 1; none where none rise."""
    if not start.rises:
        return ()
    pace = next(pace for pace in PACES if pace.key == RISE_PACE)
    made = ramp(start.share, to_light=1.0, rate=RISE_RATE, least_days=pace.least_days,
                every_days=RISE_EVERY_DAYS)  # fmt: skip
    first = RiseRow(0, tuple(start.percent(level) for level in levels))
    return (first, *(
        RiseRow(int(day) + RISE_EVERY_DAYS, tuple(round(100 * level * share) for level in levels))
        for day, share in zip(made.day, made.light, strict=True)
    ))  # fmt: skip


def read_clock(text: str) -> dt.time:
    """Return the time of a text such as 09:30, the usual one where it says none."""
    try:
        return dt.time.fromisoformat(text)
    except ValueError:
        return FIRST_LIGHT
