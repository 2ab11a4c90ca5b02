"""What in a tank's records has grown stale: gathered from the apps that know, each its own part.

The tank's page and its calendar lie below or beside those apps: they add to REMINDERS a
provider(tank, now) that returns Reminders.
"""

import datetime as dt
from dataclasses import dataclass

from apps.common.registry import Registry

# So far ahead a reminder is shown on the tank's page.
AHEAD = dt.timedelta(days=14)


@dataclass(frozen=True)
class Reminder:
    """One thing to do, from a day on; `key` names it in calendars for as long as it stands."""

    key: str
    due_on: dt.date
    title: str
    why: str
    url: str = ""
    # Not for what a calendar tells by itself, day by day.
    in_calendar: bool = True


REMINDERS: Registry[Reminder] = Registry()


def reminders_of(tank, now):
    """Return all Reminders of a tank, the earliest due first."""
    # Nobody has to do anything for a tank that has ended.
    result = REMINDERS.collect(tank, now) if tank.ended_on is None else []
    return sorted(result, key=lambda reminder: (reminder.due_on, reminder.key))


def reminders_due(tank, now):
    """Return the Reminders that are due, or soon will be."""
    last = now.astimezone(tank.zone).date() + AHEAD
    return [reminder for reminder in reminders_of(tank, now) if reminder.due_on <= last]
