"""Events on a time axis: all of a tank beside what happened to it, and one with its light."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.corals.coral.event_rows import ROW_HEIGHT, SHAPES, Row, marks_of, stacked
from apps.corals.coral.timeline import Timeline, timeline_on
from apps.corals.models import Coral
from apps.drawing.marks import Tick
from apps.drawing.time_axis import TimeAxis
from apps.outcomes.association.competing_causes import CompetingCause
from apps.outcomes.association.events import Direction, Event
from apps.outcomes.exposure.exposure import DAY, LightBook

# What the event page shows before the first note and after the last [d].
BEFORE_DAYS, AFTER_DAYS = 84, 21
NOON = dt.timedelta(hours=12)
EVENT_ROWS = {
    Direction.LIGHTER: ("paled", "note-paling"),
    Direction.DARKER: ("browned", "note-browning"),
}


@dataclass(frozen=True)
class Calendar:
    """A tank's events, light changes and mishaps on one axis, ready to draw."""

    ticks: tuple[Tick, ...]
    rows: tuple[Row, ...]
    height: int


def tank_calendar(
    book: LightBook, events: Sequence[Event], causes: Sequence[CompetingCause], axis: TimeAxis
) -> Calendar:
    """Return the Calendar of a tank's Events on a TimeAxis."""
    moments_of_rows = {
        EVENT_ROWS[direction]: [
            (book.midnight(event.first_on) + NOON, f"{event.coral_name} {event.verb}")
            for event in events
            if event.direction is direction
        ]
        for direction in Direction
    }
    moments_of_rows["lights", "light"] = [
        (change.happened_at, change.summary) for change in book.light.history.changes
    ]
    moments_of_rows["moved", "move"] = [
        (book.midnight(spot.since), f"{coral.name} moved")
        for coral in book.corals
        for spot in sorted(coral.spots.all(), key=lambda s: s.since)[1:]
    ]
    moments_of_rows["water harm", "water"] = [
        (book.midnight(cause.on) + NOON, cause.words) for cause in causes
    ]
    rows = [
        Row(label, SHAPES[kind.removeprefix("note-")], kind, marks)
        for (label, kind), moments in moments_of_rows.items()
        if (marks := marks_of(moments, axis, axis.end.tzinfo))
    ]
    return Calendar(axis.ticks(), stacked(rows), len(rows) * ROW_HEIGHT)


def event_timeline(book: LightBook, coral: Coral, event: Event, *, now: dt.datetime) -> Timeline:
    """Return the Timeline of a coral around one Event: its light before, what happened, its notes.

    One query: the water events of its tank.
    """
    start = book.midnight(event.first_on) - BEFORE_DAYS * DAY
    end = min(book.midnight(event.last_on) + AFTER_DAYS * DAY, now.astimezone(book.tank.zone))
    axis = TimeAxis(start, end)
    notes = [n for n in coral.notes.all() if start <= book.midnight(n.noted_on) + NOON <= end]
    return timeline_on(axis, coral, book.light, notes)
