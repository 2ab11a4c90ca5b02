"""Which of a tank's events a page shows: those of a stretch of time, unhappy corals first."""

import datetime as dt
from collections.abc import Mapping, Sequence

from django.core.paginator import Page, Paginator

from apps.corals.coral.stretch import Stretch, stretch_within
from apps.drawing.time_axis import TimeAxis
from apps.outcomes.association.events import Event
from apps.outcomes.exposure.exposure import DAY, LightBook

EVENTS_A_PAGE = 8
# Events a printed report gives in full.
REPORT_EVENTS = 8
# What is shown without a query [d]: half a year, one of the SPANS.
USUAL_DAYS = 183
# How long before the first event its tank's time begins [d].
LEAD_DAYS = 28


def event_stretch(
    book: LightBook, events: Sequence[Event], query: Mapping[str, str], *, now: dt.datetime
) -> Stretch:
    """Return the Stretch that `query` ({days, until}) names of a tank's Events; at least one."""
    first = book.midnight(min(event.first_on for event in events)) - LEAD_DAYS * DAY
    whole = TimeAxis(first, now.astimezone(book.tank.zone))
    stretch: Stretch = stretch_within(query, whole, usual_days=USUAL_DAYS)
    return stretch


def events_within(events: Sequence[Event], axis: TimeAxis) -> list[Event]:
    """Return the Events that reach into a TimeAxis, in their order."""
    start, end = axis.start.date(), axis.end.date()
    return [event for event in events if event.last_on >= start and event.first_on <= end]


def is_unhappy(event: Event, book: LightBook, today: dt.date) -> bool:
    """Tell whether a coral still shows an event: lately, in the newest note of it, and here."""
    coral = book.coral_by_pk[event.coral_pk]
    newest = max(coral.notes.all(), key=lambda note: (note.noted_on, note.pk))
    return coral.gone_on is None and event.near(today) and newest.pk == event.note_pks[-1]


def unhappy_first(events: Sequence[Event], book: LightBook, today: dt.date) -> list[Event]:
    """Return the Events of corals that still show them, then the others, in their order."""
    return sorted(events, key=lambda event: not is_unhappy(event, book, today))


def events_page(events: Sequence[Event], number: str | None) -> Page:
    """Return the page of that number, of EVENTS_A_PAGE each."""
    return Paginator(events, EVENTS_A_PAGE).get_page(number)


def nearest(event: Event, others: Sequence[Event], many: int) -> list[Event]:
    """Return the `many` Events nearest in time to one of them, in their order."""
    kept = sorted(others, key=lambda other: abs(other.first_on - event.first_on))[:many]
    chosen = {other.pk for other in kept}
    return [other for other in others if other.pk in chosen]
