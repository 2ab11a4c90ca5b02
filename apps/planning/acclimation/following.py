"""How it is with an acclimation: from what was ticked and what was noted to what comes next.

Pure: dates in, a record out. Nothing of it is stored, so any date may be edited afterwards.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

RISING, WAITING, PAUSED, ARRIVED = "rising", "waiting", "paused", "arrived"
# Too old, or of another rig: its steps are no orders any more (`staleness`).
STALE = "stale"
# So long after the last step a paling still counts against it [d]: chosen as the length of
# the slowest pace.
WATCH_DAYS = 28


@dataclass(frozen=True)
class Ticked:
    """A step that was taken: its number (0 is the light before the first), day and entry."""

    number: int
    on: dt.date
    at: dt.datetime


@dataclass(frozen=True)
class Noted:
    """A health note that counts: of paling (`lighter`), or of a coral that looks well."""

    coral: int | str  # any key that is one coral's own
    lighter: bool
    on: dt.date
    at: dt.datetime


@dataclass(frozen=True)
class Following:
    """Where the light stands, and the step to take next, if any."""

    state: str
    position: int  # the step the light is at, 0 before the first
    reached_on: dt.date | None
    next_number: int | None
    due_on: dt.date | None  # the earliest day of the next step
    why: Noted | None = None  # the note that pauses, or that must be answered by a better one
    stale_by: str = ""  # what makes it stale, where it is

    @property
    def goes_back(self) -> bool:
        """Return whether the next step is one back."""
        return self.next_number is not None and self.next_number < self.position

    def late_days(self, today: dt.date) -> int:
        """Return for how many days the next step upward could have been taken already."""
        if self.next_number is None or self.goes_back or self.due_on is None:
            return 0
        return max((today - self.due_on).days, 0)

    def days_ahead(self, steps: int, every_days: int, today: dt.date) -> list[tuple[int, dt.date]]:
        """Return (number, day) of every step still to take upward; none lies before today."""
        if self.state in (ARRIVED, STALE) or self.due_on is None or self.goes_back:
            return []
        first = max(self.due_on, today)
        return [
            (number, first + dt.timedelta(days=every_days * (number - self.position - 1)))
            for number in range(self.position + 1, steps + 1)
        ]


def follow(
    *,
    steps: int,
    starts_on: dt.date,
    every_days: int,
    waits: bool,
    begun_at: dt.datetime,
    limiting: int | str,
    ticked: Sequence[Ticked] = (),
    noted: Sequence[Noted] = (),
) -> Following:
    """Return the Following of a plan of so many steps.

    `ticked` in order of entry; `noted` are notes of the corals the plan concerns, in any order.
    A note of paling that was entered since the last step, of a coral not well since, takes one
    step back; until that coral is noted well no step goes up. With `waits` each step also needs
    a note that `limiting`, the limiting coral, is well, from a later day than the step before it.
    """
    last = ticked[-1] if ticked else None
    position = last.number if last else 0
    on = last.on if last else None
    due = last.on + dt.timedelta(days=every_days) if last else starts_on
    arrived = position == steps
    troubled = unanswered(n for n in noted if counts(n, last, begun_at, starts_on, arrived))
    if troubled:
        return held_back(troubled, last, begun_at)
    if arrived:
        return Following(ARRIVED, position, on, None, None)
    if (
        waits
        and last
        and not any(n.coral == limiting and not n.lighter and n.on > last.on for n in noted)
    ):
        return Following(WAITING, position, on, None, due)
    return Following(RISING, position, on, position + 1, due)


def held_back(troubled: Sequence[Noted], last: Ticked | None, begun_at: dt.datetime) -> Following:
    """Return the Following of a plan that notes of paling stop: one step back for a new one."""
    position, on = (last.number, last.on) if last else (0, None)
    fresh = [note for note in troubled if note.at > (last.at if last else begun_at)]
    if not fresh:
        return Following(WAITING, position, on, None, None, troubled[-1])
    back, due = (position - 1, fresh[-1].on) if position else (None, None)
    return Following(PAUSED, position, on, back, due, fresh[-1])


def counts(
    note: Noted, last: Ticked | None, begun_at: dt.datetime, starts_on: dt.date, arrived: bool
) -> bool:
    """Return whether a note counts: written for the time of the plan, not years after it."""
    if note.on < min(starts_on, begun_at.date()):
        return False
    return not arrived or last is None or note.on <= last.on + dt.timedelta(days=WATCH_DAYS)


def unanswered(noted: Iterable[Noted]) -> list[Noted]:
    """Return the newest lighter note of each coral that was not noted well after it, in order."""
    newest: dict[int | str, Noted] = {}
    for note in sorted(noted, key=lambda n: (n.on, n.at)):
        newest[note.coral] = note
    return sorted((n for n in newest.values() if n.lighter), key=lambda n: (n.on, n.at))
