"""The light log as a page shows it: each change with the day and the light it left behind."""

from dataclasses import dataclass
from datetime import datetime

from apps.lighting.factor import factor_words
from apps.lighting.history import LightHistory
from apps.lighting.models import LightChange


@dataclass(frozen=True)
class LogEntry:
    change: LightChange
    # Light after it for 1 before: the keeper's factor times what a new day curve's peak does [1].
    factor: float
    factor_words: str
    # Light after this change for 1 at the newest survey [1]; None without a survey.
    since_survey: float | None
    before_survey: bool


@dataclass(frozen=True)
class LightLog:
    entries: tuple[LogEntry, ...]
    surveyed_at: datetime | None
    light_now: float | None
    light_now_words: str
    changes_since: int


def light_log(changes, history: LightHistory, *, surveyed_at, now):
    """Return the LightLog of a tank's changes, in the order given."""

    def light_at(moment):
        return None if surveyed_at is None else history.factor_between(surveyed_at, moment)

    light_now = light_at(now)
    factors = {told.pk: told.factor for told in history.changes}
    return LightLog(
        entries=tuple(
            LogEntry(
                change=change,
                factor=factors[change.pk],
                factor_words=factor_words(factors[change.pk]),
                since_survey=light_at(change.happened_at),
                before_survey=surveyed_at is not None and change.happened_at <= surveyed_at,
            )
            for change in changes
        ),
        surveyed_at=surveyed_at,
        light_now=light_now,
        light_now_words="" if light_now is None else factor_words(light_now),
        changes_since=0 if surveyed_at is None else len(history.between(surveyed_at, now)),
    )
