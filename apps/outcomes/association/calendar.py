"""Events on a time axis: all of a tank beside what happened to it, and one with its light."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from apps.corals.coral.timeline import (
    ROW_HEIGHT,
    SHAPES,
    Row,
    Timeline,
    Vertical,
    dli_plot,
    event_rows,
    light_steps,
    marks_of,
    note_rows,
    par_plot,
    summary,
)
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
    Direction.LIGHTER: ("paled or bleached", "note-paling"),
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
    moments_of_rows["light changed", "light"] = [
        (change.happened_at, change.summary) for change in book.light.history.changes
    ]
    moments_of_rows["moved", "move"] = [
        (book.midnight(spot.since), f"{coral.name} moved")
        for coral in book.corals
        for spot in sorted(coral.spots.all(), key=lambda s: s.since)[1:]
    ]
    moments_of_rows["water: could have hurt", "water"] = [
        (book.midnight(cause.on) + NOON, cause.words) for cause in causes
    ]
    rows = [
        Row(label, SHAPES[kind.removeprefix("note-")], kind, marks)
        for (label, kind), moments in moments_of_rows.items()
        if (marks := marks_of(moments, axis, axis.end.tzinfo))
    ]
    return Calendar(axis.ticks(), stacked(rows), len(rows) * ROW_HEIGHT)


def stacked(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Return Rows one below the other."""
    return tuple(replace(row, top=k * ROW_HEIGHT) for k, row in enumerate(rows))


def event_timeline(book: LightBook, coral: Coral, event: Event, *, now: dt.datetime) -> Timeline:
    """Return the Timeline of a coral around one Event: its light before, what happened, its notes.

    One query: the water events of its tank.
    """
    start = book.midnight(event.first_on) - BEFORE_DAYS * DAY
    end = min(book.midnight(event.last_on) + AFTER_DAYS * DAY, now.astimezone(book.tank.zone))
    axis = TimeAxis(start, end)
    steps = light_steps(coral, book.light, axis)
    happened = event_rows(coral, book.light, axis)
    notes = [n for n in coral.notes.all() if start <= book.midnight(n.noted_on) + NOON <= end]
    rows = stacked(happened + note_rows(notes, axis, book.tank.zone))
    return Timeline(
        axis=axis,
        time_ticks=axis.ticks(),
        steps=steps,
        par=par_plot(steps, axis, coral.band()),
        dli=dli_plot(steps, axis),
        rows=rows,
        rows_height=len(rows) * ROW_HEIGHT,
        verticals=tuple(
            Vertical(mark.at, row.kind)
            for row in happened
            if row.kind != "reading"
            for mark in row.marks
        ),
        summary=summary(steps, notes),
    )
