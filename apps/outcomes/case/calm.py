"""A tank without a coral in trouble: one sentence, and when each coral was last noted."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.corals.condition import is_little_off, looks_unwell, looks_well
from apps.corals.models import Coral, HealthNote
from apps.corals.overview import ago
from apps.drawing.time_axis import TimeAxis, midnight

# How far back the lines reach [d]: the first of these that holds the last note of every coral,
# the last where none does.
SPANS_DAYS = (28, 56, 91, 183, 366)
# So many corals stand open, and so many that were never noted are named.
ROWS_AT_FIRST, NAMED = 8, 6


@dataclass(frozen=True)
class Dot:
    """One note on a line: where [% of its width], and whether the coral was in trouble."""

    percent: float
    is_unwell: bool


@dataclass(frozen=True)
class LastNoted:
    """One coral by its newest note, and its notes of late as dots."""

    coral: Coral
    note: HealthNote
    days: int
    dots: tuple[Dot, ...]

    @property
    def when(self) -> str:
        """Say when that was: "12 days ago"."""
        return ago(self.days)


@dataclass(frozen=True)
class Calm:
    """What a page says while nobody is in trouble; the corals noted longest ago come first."""

    words: str
    rows: tuple[LastNoted, ...]
    never: tuple[Coral, ...]
    since: dt.date

    @property
    def first(self) -> tuple[LastNoted, ...]:
        return self.rows[:ROWS_AT_FIRST]

    @property
    def rest(self) -> tuple[LastNoted, ...]:
        return self.rows[ROWS_AT_FIRST:]

    @property
    def never_named(self) -> tuple[Coral, ...]:
        return self.never[:NAMED]

    @property
    def never_more(self) -> int:
        return len(self.never) - len(self.never_named)

    @property
    def shows_trouble(self) -> bool:
        """Whether a dot says that a coral was in trouble, so that the two have to be told apart."""
        return any(dot.is_unwell for row in self.rows for dot in row.dots)


def calm_of(corals: Sequence[Coral], now: dt.datetime) -> Calm | None:
    """Return the Calm of a tank's corals, None where none lives; reads their prefetched notes.

    `now` is by the tank's clock.
    """
    living = [coral for coral in corals if coral.gone_on is None]
    if not living:
        return None
    notes = {c.pk: sorted(c.notes.all(), key=lambda note: (note.noted_on, note.pk)) for c in living}
    noted = [coral for coral in living if notes[coral.pk]]
    noted.sort(key=lambda coral: (notes[coral.pk][-1].noted_on, coral.name))
    today = now.date()
    longest = max((days_since(notes[c.pk][-1], today) for c in noted), default=0)
    span = next((days for days in SPANS_DAYS if days >= longest), SPANS_DAYS[-1])
    axis = TimeAxis(midnight(today - dt.timedelta(days=span), now.tzinfo), now)
    rows = tuple(last_noted(coral, notes[coral.pk], axis) for coral in noted)
    never = tuple(coral for coral in living if not notes[coral.pk])
    return Calm(calm_words(rows, len(living)), rows, never, axis.start.date())


def days_since(note: HealthNote, today: dt.date) -> int:
    return max(int((today - note.noted_on).days), 0)


def last_noted(coral: Coral, notes: Sequence[HealthNote], axis: TimeAxis) -> LastNoted:
    """Return the LastNoted of a coral by its notes, oldest first."""
    moments = [(midnight(note.noted_on, axis.end.tzinfo), note) for note in notes]
    dots = tuple(Dot(axis.percent(at), looks_unwell(n)) for at, n in moments if axis.holds(at))
    return LastNoted(coral, notes[-1], days_since(notes[-1], axis.end.date()), dots)


def calm_words(rows: Sequence[LastNoted], living: int) -> str:
    """Say how the corals looked when each was last noted, and when somebody last looked."""
    if not rows:
        corals = "this coral looks" if living == 1 else "these corals look"
        return f"Nobody has noted yet how {corals}."
    noted = f"Last noted {rows[-1].when}."
    if living == 1:
        looks = "well" if looks_well(rows[0].note) else "a little off"
        return f"{rows[0].coral.name} is not in trouble: it looked {looks}. {noted}"
    well = sum(looks_well(row.note) for row in rows)
    little_off = sum(is_little_off(row.note) for row in rows)
    never = living - len(rows)
    parts = [looked(well, living, "well")] if well else []
    if little_off:
        words = "a little off"
        parts.append(f"{little_off} {words}" if well else looked(little_off, living, words))
    if never:
        parts.append(f"{never} never noted")
    return f"No coral is in trouble: {', '.join(parts)}. {noted}"


def looked(count: int, living: int, words: str) -> str:
    """Say how many of several living corals looked so."""
    return f"{f'all {living}' if count == living else f'{count} of {living}'} looked {words}"
