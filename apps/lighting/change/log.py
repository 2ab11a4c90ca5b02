"""The light log as a page shows it: each change with what it changed and the day after it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from apps.common.moments import day_text
from apps.common.registry import Registry
from apps.lighting.change.factor import factor_words
from apps.lighting.change.summary import (
    Contradiction,
    Difference,
    contradictions,
    day_difference,
    rig_differences,
)
from apps.lighting.change.title import title_of
from apps.lighting.day_run import Schedule
from apps.lighting.history import LightHistory
from apps.lighting.models import HungFixture, LightChange
from apps.tanks.models import Tank

# What is said below "The light now": provider(tank) returns (text, url) pairs. The log lies below
# the surveys that its forecasts are scored by.
FORECAST_WORDS: Registry[tuple[str, str]] = Registry()


def forecast_words(tank: Tank) -> list[tuple[str, str]]:
    """Return the (text, url) pairs that higher apps say of a tank's forecasts."""
    return FORECAST_WORDS.collect(tank)


@dataclass(frozen=True)
class LogEntry:
    change: LightChange
    # What the keeper said of it, else what it did to the lamps, else its kind.
    title: str
    # Light after it for 1 before, besides what the fixtures tell; "" where that is nothing.
    # A new day curve's peak is part of it.
    factor: float
    factor_words: str
    # The factors since the newest survey multiplied [1]; None without a survey.
    since_survey: float | None
    # What the fixtures and the day became against the state before, computed anew each time.
    differences: tuple[Difference, ...]
    day_words: str
    doubts: tuple[Contradiction, ...]


@dataclass(frozen=True)
class LightLog:
    entries: tuple[LogEntry, ...]
    surveyed_at: datetime | None
    light_now: float | None
    light_now_words: str
    changes_since: int

    @property
    def unchanged_words(self) -> str:
        """Why nothing is predicted: no survey, or no change since it; "" where there is."""
        if self.surveyed_at is None:
            return "No survey yet, so there is nothing to measure the changes against."
        if self.changes_since:
            return ""
        day = day_text(timezone.localtime(self.surveyed_at))
        return f"As it was measured on {day}. No change since."


def light_log(
    changes: Sequence[LightChange],
    history: LightHistory,
    *,
    rigs: Mapping[int, Sequence[HungFixture]],
    surveyed_at: datetime | None,
    now: datetime,
    unit: str,
) -> LightLog:
    """Return the LightLog of a tank's changes, newest first.

    `rigs` are the HungFixtures after each that tells them, by its key (`rigs_after`).
    """

    def light_at(moment: datetime) -> float | None:
        return None if surveyed_at is None else history.factor_between(surveyed_at, moment)

    entries = []
    rig: list[HungFixture] | None = None
    day: Schedule | None = None
    by_key = {change.pk: change for change in history.changes}
    for change in reversed(changes):
        after = list(rigs.get(change.pk, ())) if change.tells_rig else rig
        day_after = history.schedule_at(change.happened_at)
        entries.append(
            log_entry(
                change,
                rigs=(rig, after),
                days=(day, day_after),
                factor=change.factor * by_key[change.pk].peak_ratio,
                since_survey=light_at(change.happened_at),
                unit=unit,
            )
        )
        rig, day = after, day_after
    light_now = light_at(now)
    return LightLog(
        entries=tuple(reversed(entries)),
        surveyed_at=surveyed_at,
        light_now=light_now,
        light_now_words="" if light_now is None else factor_words(light_now),
        changes_since=0 if surveyed_at is None else len(history.between(surveyed_at, now)),
    )


def log_entry(
    change: LightChange,
    *,
    rigs: tuple[list[HungFixture] | None, list[HungFixture] | None],
    days: tuple[Schedule | None, Schedule | None],
    factor: float,
    since_survey: float | None,
    unit: str,
) -> LogEntry:
    """Return the LogEntry of a change; `rigs` and `days` are what held before it and after it."""
    before, after = rigs
    return LogEntry(
        change=change,
        title=title_of(change, before, after or (), unit=unit),
        factor=factor,
        factor_words="" if factor == 1 else factor_words(factor),
        since_survey=since_survey,
        differences=rig_differences(before, after or (), unit=unit),
        day_words=day_difference(*days),
        doubts=contradictions(change, before, after),
    )
