"""Did their light change before? Every note of a tank as a visit, weighed by light_association."""

import datetime as dt
import hashlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from apps.common.kept import kept
from apps.corals.models import Coral
from apps.outcomes.association.competing_causes import (
    CompetingCause,
    Suspect,
    competing_causes,
    suspects,
)
from apps.outcomes.association.events import (
    EPISODE_DAYS,
    Direction,
    Event,
    episodes,
)
from apps.outcomes.association.handling import (
    Row,
    eyes_by_day,
    last_before,
    move_days,
    since,
)
from apps.outcomes.association.water_values import WaterSeries, water_columns, water_series
from apps.outcomes.exposure.exposure import LightBook, Part
from apps.photics.causes.association import Association, Lag
from apps.photics.causes.counts_and_ranks import (
    RankCorrelation,
)
from apps.photics.causes.response_curves import DoseResponse
from apps.photics.causes.visit_levels import LINGER_DAYS, NEW_DAYS
from apps.photics.causes.visits import Visits, VisitsWeighed, weigh_visits
from apps.photics.ground.arrays import FloatArray

# Part of the cache key: raise it when the statistics change.
WEIGHING_VERSION = 8
# Any number would do: the same notes must give the same answer.
SEED = 27
QUESTIONS = {Direction.LIGHTER: "rise", Direction.DARKER: "fall"}
LIGHT_WORDS = {
    Direction.LIGHTER: "light above what the coral was used to",
    Direction.DARKER: "light below what the coral was used to",
}
NEW_WORDS = f"in its first {NEW_DAYS / 7:g} weeks here"
MOVED_WORDS = f"within {LINGER_DAYS / 7:g} weeks of a move by hand"
# How sure each verdict is, of three: the dots before it.
STATES = {
    "enough to act": "sure-3",
    "points to light": "sure-2",
    "points elsewhere": "sure-2",
    "cannot tell": "sure-0",
}


@dataclass(frozen=True)
class Weighed:
    """The answer to one question, with what the page needs to say beside it."""

    direction: Direction
    association: Association
    response: DoseResponse | None
    stronger: RankCorrelation | None  # of the events' strength with their change of light
    suspects: tuple[Suspect, ...]
    n_visits: int
    n_corals: int
    by_par: bool
    without_light: int
    water_values: tuple[str, ...]  # that were allowed for: "temperature [°C]"

    @property
    def state(self) -> str:
        return STATES[self.association.verdict]

    @property
    def has_figures(self) -> bool:
        return not math.isnan(self.association.p_value)

    @property
    def has_competing_causes(self) -> bool:
        return any(not suspect.is_light for suspect in self.suspects)

    @property
    def lags(self) -> tuple[Lag, ...]:
        return self.association.lag_profile


def weigh_book(book: LightBook) -> tuple[Weighed, ...]:
    """Return a Weighed for each question of which a LightBook's tank has an event."""
    causes, series = competing_causes(book.tank), water_series(book.tank)
    questions = [
        (direction, visits)
        for direction in Direction
        if (visits := visits_of(book, direction, causes, series)) is not None
    ]
    result = [answer(visits, direction) for direction, visits in questions]
    return tuple(
        Weighed(
            direction=direction,
            association=weighed.association,
            response=weighed.response,
            stronger=weighed.stronger,
            suspects=side_by_side(visits, weighed.dose_log2, causes, LIGHT_WORDS[direction]),
            n_visits=len(visits.day),
            n_corals=len(np.unique(visits.coral)),
            by_par=visits.by_par,
            without_light=visits.without_light,
            water_values=tuple(one.words for one in series),
        )
        for (direction, visits), weighed in zip(questions, result, strict=True)
    )


def visits_of(
    book: LightBook,
    direction: Direction,
    causes: Sequence[CompetingCause] = (),
    series: Sequence[WaterSeries] = (),
) -> Visits | None:
    """Return the Visits of a tank for one question, or None when no such event was noted."""
    rows: list[Row] = []
    without_light, n_events = 0, 0
    for coral in book.corals:
        runs = list(episodes(coral, direction))
        n_events += len(runs)
        eyes, moves = eyes_by_day(coral), move_days(coral)
        for day, severity in noted_days(coral, runs, book.parts[0]):
            light = book.light_at(coral, book.eve(day))
            if light is None:
                without_light += 1
                continue
            moved = last_before(moves, day)
            rows.append(Row(coral, day, light.par_umol, light.dli_mol, severity, moved, eyes[day]))
    return as_columns(rows, causes, series, without_light) if n_events else None


def noted_days(coral: Coral, runs: Sequence[Event], part: Part) -> Iterator[tuple[dt.date, int]]:
    """Yield the days of a coral's notes that count, with the severity of an event that began.

    `runs` are the coral's Events of one direction; days are those of a Part, oldest first.
    """
    firsts = {event.first_on: event.severity for event in runs}
    noted = {note.noted_on for note in coral.notes.all()}
    for day in sorted(filter(part.holds, noted)):
        if day in firsts or not any(still_affected(event, day) for event in runs):
            yield day, firsts.get(day, 0)


def as_columns(
    rows: Sequence[Row],
    causes: Sequence[CompetingCause],
    series: Sequence[WaterSeries],
    without_light: int,
) -> Visits:
    """Return the Visits of Rows; daily light where each has it, else PAR."""
    by_par = any(row.dli_mol is None for row in rows)
    days = [row.day for row in rows]
    reached = {day: any(cause.reaches(day) for cause in causes) for day in set(days)}
    severity = np.array([row.severity for row in rows], float)
    return Visits(
        coral=np.array([row.coral.pk for row in rows], int),
        day=np.array([day.toordinal() for day in days], float),
        light=np.array([row.par_umol if by_par else row.dli_mol for row in rows], float),
        event=(severity > 0).astype(float),
        severity=severity,
        water_event=np.array([reached[day] for day in days], float),
        group=np.array([row.coral.group for row in rows], str),
        genus=np.array([row.coral.genus.strip().lower() for row in rows], str),
        by_par=by_par,
        without_light=without_light,
        arrived=np.array([row.coral.added_on.toordinal() for row in rows], float),
        moved=np.array([row.moved.toordinal() if row.moved else np.nan for row in rows], float),
        keeper=np.array([row.eyes for row in rows], str),
        water=water_columns(series, days),
    )


def still_affected(event: Event, day: dt.date) -> bool:
    """Tell whether a note of that day falls in the shadow of an event already counted."""
    return event.first_on < day <= event.last_on + dt.timedelta(days=EPISODE_DAYS)


def answer(visits: Visits, direction: Direction) -> VisitsWeighed:
    """Return what the visits say of a question, kept while notes and light stay."""
    columns = (
        *(visits.coral, visits.day, visits.light.round(6), visits.severity, visits.water_event),
        *(visits.group, visits.arrived, visits.moved, visits.keeper, visits.water),
    )
    text = repr((WEIGHING_VERSION, direction, [c.tolist() for c in columns if c is not None]))
    key = "weighed-" + hashlib.sha256(text.encode()).hexdigest()
    return kept(key, lambda: weigh_visits(visits, QUESTIONS[direction], seed=SEED))


def side_by_side(
    visits: Visits, dose_log2: FloatArray, causes: Sequence[CompetingCause], light_words: str
) -> tuple[Suspect, ...]:
    """Return the Suspects of visits: the light beside each kind of water event.

    `dose_log2` (n,) is each visit's light against what its coral was used to, the way in question.
    """
    days = [dt.date.fromordinal(int(day)) for day in visits.day]
    return suspects(
        days,
        dose_log2,
        visits.event,
        causes,
        light_words=light_words,
        others={
            NEW_WORDS: since(visits.day, visits.arrived, NEW_DAYS),
            MOVED_WORDS: since(visits.day, visits.moved, LINGER_DAYS),
        },
    )
