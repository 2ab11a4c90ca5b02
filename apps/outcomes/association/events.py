"""From health notes to events: notes of one kind that follow each other are one episode."""

import datetime as dt
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Prefetch

from apps.corals.condition import Change, change_between
from apps.corals.models import Coral, HealthNote
from apps.tanks.models import Tank

# A note this many days or fewer after the last one of its kind goes on with it [d]. House rule.
EPISODE_DAYS = 30
# Events of several corals this close in time may have one cause that reached them all [d].
# House rule.
TOGETHER_DAYS = 14

VERBS = {
    HealthNote.Seen.PALING: "paled",
    HealthNote.Seen.BLEACHING: "bleached",
    HealthNote.Seen.BROWNING: "browned",
}


class Direction(StrEnum):
    """What the colour did: too much light can turn it lighter, too little darker."""

    LIGHTER = "lighter"
    DARKER = "darker"

    @property
    def seen(self) -> Collection[HealthNote.Seen]:
        """The kinds of note that speak for it."""
        kinds = HealthNote.LIGHTER if self is Direction.LIGHTER else HealthNote.DARKER
        return kinds  # type: ignore[return-value]  # Django brings no types: choices seem pairs


@dataclass(frozen=True)
class Decline:
    """The condition last said before an event beside the worst said in it."""

    before: str
    before_on: dt.date
    worst: str
    worst_on: dt.date
    change: Change

    @property
    def is_real(self) -> bool:
        """Tell whether it fell by more than what two looks at one coral may differ by."""
        return self.change.is_real and self.change.steps < 0

    @property
    def verdict(self) -> str:
        """Return what the fall amounts to."""
        if self.is_real:
            return "Clearly worse"
        return "One step down: may just be how it looked" if self.change.steps < 0 else "No worse"


@dataclass(frozen=True)
class Event:
    """One episode of one coral, dated by its first note."""

    coral_pk: int
    coral_name: str
    direction: Direction
    note_pks: tuple[int, ...]
    first_on: dt.date
    last_on: dt.date
    verb: str
    strength: str
    severity: int  # 1 to 3 as its strength, of bleaching 4 to 6
    text: str
    decline: Decline | None  # where a condition was said before and in it

    @property
    def pk(self) -> int:
        """The first note's key: the event's address."""
        return self.note_pks[0]

    def near(self, day: dt.date) -> bool:
        """Tell whether a day lies within the episode or EPISODE_DAYS of it."""
        reach = dt.timedelta(days=EPISODE_DAYS)
        return self.first_on - reach <= day <= self.last_on + reach


def corals_with_notes(tank: Tank) -> list[Coral]:
    """Return all corals that were ever in the tank, with spots and present notes; three queries."""
    notes = HealthNote.objects.present().order_by("noted_on", "pk")
    rows = tank.corals.present().prefetch_related("spots", Prefetch("notes", queryset=notes))
    corals = list(rows.order_by("name", "pk"))
    for coral in corals:
        # The same tank object for all, so that no coral reads it again.
        coral.tank = tank
    return corals


def events_of(coral: Coral) -> list[Event]:
    """Return the coral's events of both directions, oldest first. Reads the prefetched notes."""
    result = [event for direction in Direction for event in episodes(coral, direction)]
    return sorted(result, key=lambda event: (event.first_on, event.pk))


def episodes(coral: Coral, direction: Direction) -> Iterator[Event]:
    """Yield the coral's events of one direction, oldest first."""
    run: list[HealthNote] = []
    for note in (n for n in coral.notes.all() if n.shows(direction.seen)):
        if run and (note.noted_on - run[-1].noted_on).days > EPISODE_DAYS:
            yield event_of(coral, direction, run)
            run = []
        run.append(note)
    if run:
        yield event_of(coral, direction, run)


def severity_of(note: HealthNote) -> int:
    """Return how strong a note's change of colour is: 1 to 3, of bleaching 4 to 6.

    The strength was noted of the main sign; it stands for the others too. House rule.
    """
    return int(note.strength) + (3 if note.shows({HealthNote.Seen.BLEACHING}) else 0)


def event_of(coral: Coral, direction: Direction, notes: Sequence[HealthNote]) -> Event:
    """Return the Event that notes in order of date make up."""
    first = notes[0]
    return Event(
        coral_pk=coral.pk,
        coral_name=coral.name,
        direction=direction,
        note_pks=tuple(note.pk for note in notes),
        first_on=first.noted_on,
        last_on=notes[-1].noted_on,
        verb=next(VERBS[sign] for sign in first.signs if sign in direction.seen),
        strength=first.get_strength_display(),
        severity=severity_of(first) if direction is Direction.LIGHTER else first.strength,
        text=first.text,
        decline=decline_of(coral, notes),
    )


def decline_of(coral: Coral, notes: Sequence[HealthNote]) -> Decline | None:
    """Return the Decline that an episode's notes, in order of date, brought; None when unknown."""
    earlier = [n for n in coral.notes.all() if n.condition and n.noted_on < notes[0].noted_on]
    after = [n for n in notes if n.condition]
    if not earlier or not after:
        return None
    before, worst = earlier[-1], min(after, key=lambda n: n.condition)
    change = change_between(before.condition, worst.condition)
    if change is None:
        return None
    return Decline(
        before=before.get_condition_display(),
        before_on=before.noted_on,
        worst=worst.get_condition_display(),
        worst_on=worst.noted_on,
        change=change,
    )
