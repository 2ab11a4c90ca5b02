"""The steps still to take in a tank, and what is stale, as an iCalendar text (RFC 5545).

Each is one day-long event.
"""

import datetime as dt

from icalendar import Calendar, Event

from apps.planning.acclimating import following_of, telling_notes_of
from apps.planning.acclimation_sheet import setting_words, state_words, watched_coral
from apps.planning.following import PAUSED, WAITING
from apps.planning.models import Acclimation

WATCH = "Watch the corals the day after. Note paling at once: the plan pauses and steps back."


def steps_calendar(tank, keeper, *, now, host, url, reminders=()):
    """Return the calendar of a tank as bytes; lengths are in the keeper's unit.

    `reminders` are the tank's Reminders, told as further days.

    Days are counted from what was done, so a subscribed phone follows a late step by itself.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//reeflog//light//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", f"{tank.name}: light")
    # A phone that asks may come back in half a day.
    calendar.add("refresh-interval", dt.timedelta(hours=12), parameters={"value": "DURATION"})
    plans = list(Acclimation.objects.visible_to(keeper).filter(tank=tank).with_all())
    notes = telling_notes_of(plans)
    for plan in plans:
        for number, day, words in days_of(plan, notes[plan.pk], unit=keeper.units):
            event = Event()
            event.add("uid", f"acclimation-{plan.pk}-{number}@{host}")
            event.add("dtstamp", now)
            event.add("dtstart", day)
            event.add("dtend", day + dt.timedelta(days=1))
            event.add("summary", words)
            event.add("description", f"{WATCH}\n{url}")
            event.add("transp", "TRANSPARENT")
            calendar.add_component(event)
    for reminder in reminders:
        calendar.add_component(reminder_event(reminder, tank, now=now, host=host, url=url))
    return calendar.to_ical()


def reminder_event(reminder, tank, *, now, host, url):
    """Return the day-long event of a Reminder; one long due stands on today, not in the past."""
    day = max(reminder.due_on, now.astimezone(tank.zone).date())
    event = Event()
    event.add("uid", f"{reminder.key}-tank-{tank.pk}@{host}")
    event.add("dtstamp", now)
    event.add("dtstart", day)
    event.add("dtend", day + dt.timedelta(days=1))
    event.add("summary", f"{reminder.title}: {tank.name}")
    event.add("description", f"{reminder.why}\n{url}")
    event.add("transp", "TRANSPARENT")
    return event


def days_of(plan, notes, *, unit):
    """Return (number, day, words) of every step ahead, or of the one that waits."""
    steps = list(plan.steps.all())
    found = following_of(plan, notes)
    ahead = found.days_ahead(len(steps), plan.every_days, plan.tank.today())
    of = "The whole tank" if plan.whole_tank else plan.coral.name
    if found.state in (PAUSED, WAITING) and not ahead:
        day = found.why.on if found.why else found.due_on
        words = state_words(plan, found, len(steps), watched_coral(plan, found, notes))
        return [(found.position, day, f"{of}: {words}")]
    return [
        (number, day, f"{of}: {setting_words(plan, steps[number - 1].setting, unit)}")
        for number, day in ahead
    ]
