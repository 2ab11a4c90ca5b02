"""What corals did, beside the light they had: each event on its own, and all corals compared."""

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from apps.corals.models import Coral
from apps.lighting.history import Change
from apps.lightmap.lightmap import tank_light
from apps.lightmap.spot_light import SpotLight
from apps.outcomes.association.comparison import Comparison, compare_corals
from apps.outcomes.association.competing_causes import CompetingCause, competing_causes
from apps.outcomes.association.events import (
    TOGETHER_DAYS,
    Direction,
    Event,
    corals_with_notes,
    events_of,
)
from apps.outcomes.exposure.exposure import (
    DAY,
    BandPlace,
    LightBook,
    LightGap,
    MeanLight,
    band_place,
    light_gap,
)
from apps.outcomes.exposure.visit_exposure import WINDOW_DAYS, VisitExposure, visit_exposure
from apps.tanks.models import Tank

# Days before an event whose mean light is weighed [d].
BEFORE_DAYS = WINDOW_DAYS
# How far back changes are listed [d]. House rule.
LOOKBACK_DAYS = 42
# Steps listed of an event: those that changed its light the most.
STEPS_MAX = 8
# So many stand open; more fold under their number.
STEPS_OPEN = 3


@dataclass(frozen=True)
class Step:
    """One thing that changed the light at a coral: to the whole tank, or by moving the coral."""

    on: dt.date
    kind: str  # "light", "moved" or "placed"
    words: str
    factor: float | None  # light at its spot after, for 1 before [1]
    hours_before: float | None  # hours of full light a day [h]
    hours_after: float | None


@dataclass(frozen=True)
class Neighbour:
    """Another coral of the tank over the same days."""

    coral_pk: int
    name: str
    light: MeanLight | None
    place: BandPlace | None
    same_note: bool  # it had a note of the same kind near that time


@dataclass(frozen=True)
class EventLight:
    """An event with the light before it; `unknown` says why there is none."""

    event: Event
    unknown: str  # "" or a reason of `why_unknown`
    light: SpotLight | None  # on the eve of the first note
    mean: MeanLight | None  # over BEFORE_DAYS
    place: BandPlace | None
    since_weeks_3: LightGap | None
    since_weeks_6: LightGap | None
    steps: tuple[Step, ...]
    neighbours: tuple[Neighbour, ...]
    compared: int  # other corals without such a note whose light is known
    brighter: int  # of them, with more light for their band
    brighter_plain: int  # of them, with more light as such
    together: int  # other corals with such an event within TOGETHER_DAYS
    steps_left_out: int  # further steps, which changed its light less
    competing_causes: tuple[CompetingCause, ...]  # water events that could still show on it then
    exposure: VisitExposure | None = None  # against the light it was used to, where wanted

    @property
    def steps_number(self) -> int:
        """How many Steps led to it, shown or left out."""
        return len(self.steps) + self.steps_left_out

    @property
    def many_steps(self) -> bool:
        """Whether they are more than a page lists at first."""
        return self.steps_number > STEPS_OPEN


@dataclass(frozen=True)
class Missing:
    """What would make the answer surer: numbers of corals, and what the light rests on."""

    unplaced: int
    never_noted: int
    no_map: bool
    guessed: int  # events whose light lies beyond the readings
    measured_later: int
    much_changed: int  # events with light carried over two changes or more


@dataclass(frozen=True)
class Outcomes:
    """A tank's events, newest first, and what the corals say together, worked out when wanted.

    A page shows a few events of hundreds, so the light of each is worked out by itself.
    """

    events: tuple[Event, ...]
    book: LightBook
    competing_causes: tuple[CompetingCause, ...]

    @cached_property
    def weighed(self) -> list[Event]:
        """The Events that the comparisons and `missing` rest on: all, unless the tank is vast."""
        newest = self.book.parts[0]
        return [event for event in self.events if newest.holds(event.first_on)]

    @cached_property
    def comparisons(self) -> tuple[Comparison, ...]:
        """The Comparison of each Direction."""
        return tuple(
            compare_corals(
                self.book, [e for e in self.weighed if e.direction is kind], kind, BEFORE_DAYS
            )
            for kind in Direction
        )

    @cached_property
    def missing(self) -> Missing:
        """What the tank's outcomes lack."""
        return missing(self.book, self.weighed)

    def lit(self, event: Event) -> EventLight:
        """Return the EventLight of one Event, without its exposure."""
        return event_light(self.book, event, self.events, self.competing_causes)

    def exposed(self, event: Event) -> EventLight:
        """Return the EventLight of one Event, with the light the coral was used to."""
        coral = self.book.coral_by_pk[event.coral_pk]
        return replace(self.lit(event), exposure=visit_exposure(self.book, coral, event.first_on))

    def like(self, event: Event) -> list[Event]:
        """Return all other Events of the same direction, newest first."""
        return [e for e in self.events if e.direction is event.direction and e.pk != event.pk]

    def event_with_note(self, note_pk: int) -> Event | None:
        """Return the Event that a note belongs to, or None."""
        return next((event for event in self.events if note_pk in event.note_pks), None)


def tank_outcomes(tank: Tank) -> Outcomes:
    """Return the Outcomes of a tank; the number of queries does not grow with what it holds."""
    book = LightBook(tank, corals_with_notes(tank), tank_light(tank))
    events = [event for coral in book.corals for event in events_of(coral)]
    events.sort(key=lambda event: (event.first_on, event.pk), reverse=True)
    return Outcomes(tuple(events), book, competing_causes(tank))


def event_light(
    book: LightBook, event: Event, events: Sequence[Event], causes: Sequence[CompetingCause]
) -> EventLight:
    """Return the EventLight of one event among all `events` and CompetingCauses of the tank."""
    coral = book.coral_by_pk[event.coral_pk]
    eve = book.eve(event.first_on)
    light, before3, before6 = (
        book.light_at(coral, eve - days * DAY) for days in (0, BEFORE_DAYS, LOOKBACK_DAYS)
    )
    mean = book.means_before(eve, BEFORE_DAYS).get(coral.pk) if light else None
    place = band_place(mean, coral) if mean else None
    around = neighbours(book, coral, event, events)
    steps = steps_before(book, coral, eve)
    listed = largest_steps(steps)
    plain = [(n.light, n.place) for n in around if n.light and n.place and not n.same_note]
    return EventLight(
        event=event,
        unknown="" if light else why_unknown(book, coral, event.first_on),
        light=light,
        mean=mean,
        place=place,
        since_weeks_3=light_gap(before3, light),
        since_weeks_6=light_gap(before6, light),
        steps=listed,
        steps_left_out=len(steps) - len(listed),
        neighbours=around,
        compared=len(plain) if mean else 0,
        brighter=sum(at.ratio > place.ratio for _, at in plain) if place else 0,
        brighter_plain=sum(lit.par_umol > mean.par_umol for lit, _ in plain) if mean else 0,
        together=companions(event, events),
        competing_causes=tuple(cause for cause in causes if cause.reaches(event.first_on)),
    )


def why_unknown(book: LightBook, coral: Coral, day: dt.date) -> str:
    """Return the reason for which a coral's light before a date is not known.

    Each reason is looked for by itself, so that none stands for another: "no_map", "just_came",
    "gone", "no_spot", "in_rock", or "other" where none of them holds.
    """
    eve = day - DAY
    if not book.has_map:
        return "no_map"
    if coral.added_on > eve:
        return "just_came"
    if coral.gone_on and coral.gone_on < eve:
        return "gone"
    spot = coral.spot_on(eve)
    if spot is None:
        return "no_spot"
    inside = book.light.in_rock([(spot.x_cm, spot.y_cm, spot.depth_cm)])[0]
    return "in_rock" if inside else "other"


def neighbours(
    book: LightBook, coral: Coral, event: Event, events: Sequence[Event]
) -> tuple[Neighbour, ...]:
    """Return the tank's other corals of that day, the one with most light for its band first."""
    eve = book.eve(event.first_on)
    means = book.means_before(eve, BEFORE_DAYS)
    day = book.date(eve)
    touched = {e.coral_pk for e in events if e.direction == event.direction and e.near(day)}
    rows = []
    for other in book.corals:
        here = other.added_on <= day and not (other.gone_on and other.gone_on < day)
        if other.pk == coral.pk or not here:
            continue
        light = means.get(other.pk)
        place = band_place(light, other) if light else None
        rows.append(Neighbour(other.pk, other.name, light, place, other.pk in touched))
    return tuple(sorted(rows, key=lambda n: (n.place is None, -(n.place.ratio if n.place else 0))))


def companions(event: Event, events: Sequence[Event]) -> int:
    """Return how many other corals had such an event at about the same time."""
    reach = dt.timedelta(days=TOGETHER_DAYS)
    return len(
        {
            other.coral_pk
            for other in events
            if other.coral_pk != event.coral_pk
            and other.direction == event.direction
            and abs(other.first_on - event.first_on) <= reach
        }
    )


def steps_before(book: LightBook, coral: Coral, eve: dt.datetime) -> tuple[Step, ...]:
    """Return the Steps of the last LOOKBACK_DAYS that reached a coral, oldest first."""
    start, history = eve - LOOKBACK_DAYS * DAY, book.light.history
    steps = []
    for change in history.between(start, eve):
        before = history.schedule_at(change.happened_at - dt.timedelta(microseconds=1))
        after = history.schedule_at(change.happened_at)
        hours = [schedule.full_hours if schedule else None for schedule in (before, after)]
        if hours[0] == hours[1]:
            hours = [None, None]
        on, factor = book.date(change.happened_at), factor_there(book, coral, change)
        steps.append(Step(on, "light", change.summary, factor, *hours))
    steps += moves(book, coral, start, eve)
    return tuple(sorted(steps, key=lambda step: step.on))


def largest_steps(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Return the STEPS_MAX Steps that changed the light the most, in their order.

    Moves come first, then a new day's length, then by how far the factor is from 1.
    """

    def weight(step: Step) -> tuple[bool, bool, float]:
        changed = abs(math.log(step.factor)) if step.factor else 0.0
        return step.kind != "light", step.hours_after is not None, changed

    kept = sorted(range(len(steps)), key=lambda k: weight(steps[k]), reverse=True)[:STEPS_MAX]
    return tuple(steps[k] for k in sorted(kept))


def factor_there(book: LightBook, coral: Coral, change: Change) -> float | None:
    """Return what a light change made of the light at a coral's spot [1], or None if unknown.

    The factor a keeper states holds beside the fixtures; what these did is in the light alone.
    """
    stretch = book.stretch_at(change.happened_at)
    spot = book.spot_in(coral, stretch)
    if spot is None:
        return None
    was, becomes = book.at_spot(spot, stretch - 1), book.at_spot(spot, stretch)
    return becomes.par_umol / was.par_umol if was and was.par_umol and becomes else None


def moves(book: LightBook, coral: Coral, start: dt.datetime, eve: dt.datetime) -> Iterator[Step]:
    """Yield the Steps by which a coral was placed or moved between two moments."""
    spots = sorted(coral.spots.all(), key=lambda spot: (spot.since, spot.pk))
    for old, new in zip([None, *spots], spots, strict=False):
        moment = book.midnight(new.since)
        if not start < moment <= eve:
            continue
        if old is None:
            yield Step(new.since, "placed", "", None, None, None)
            continue
        was, becomes = (book.at_spot(spot, book.stretch_at(moment)) for spot in (old, new))
        factor = becomes.par_umol / was.par_umol if was and was.par_umol and becomes else None
        yield Step(new.since, "moved", "", factor, None, None)


def missing(book: LightBook, events: Sequence[Event]) -> Missing:
    """Return what the tank's outcomes lack, of the Events they rest on."""
    living = [coral for coral in book.corals if coral.gone_on is None]
    result = [
        book.light_at(book.coral_by_pk[event.coral_pk], book.eve(event.first_on))
        for event in events
    ]
    lights = [light for light in result if light]
    return Missing(
        unplaced=sum(not coral.spots.all() for coral in living),
        never_noted=sum(not coral.notes.all() for coral in living),
        no_map=not book.has_map,
        guessed=sum(light.extrapolated for light in lights),
        measured_later=sum(light.measured_later for light in lights),
        much_changed=sum(light.changes_since >= 2 for light in lights),
    )
