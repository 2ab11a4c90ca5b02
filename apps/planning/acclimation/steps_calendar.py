"""The steps still to take in a tank, and what is stale, as an iCalendar text (RFC 5545).

Each is one day-long event.
"""

import datetime as dt

from icalendar import Calendar, Event

from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of, telling_notes_of
from apps.planning.acclimation.following import PAUSED, STALE, WAITING
from apps.planning.acclimation.sheet import setting_words, state_words, watched_coral
from apps.planning.models import Acclimation

WATCH = "Watch the corals the day after. Note paling at once: the plan pauses and steps back."
NOTHING = "Nothing is due"
HOW_IT_FILLS = (
    "This calendar works. Steps of acclimation plans, and what has grown stale, will stand on "
    "their days here by themselves; this entry goes then."
)


def steps_calendar(tank, keeper, *, now, host, url, made_on, reminders=()):
    """Return the calendar of a tank as bytes; lengths are in the keeper's unit.

    `reminders` are the tank's Reminders, told as further days, and `made_on` is the day since
    which the calendar can be subscribed to.

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
    rows = rig_in_force(tank, now) if plans else []
    today = now.astimezone(tank.zone).date()
    told = [
        (f"acclimation-{plan.pk}-{number}", day, words, WATCH)
        for plan in plans
        for number, day, words in days_of(plan, notes[plan.pk], rows, unit=keeper.units)
    ]
    # A reminder long due stands on today, not in the past.
    told += [
        (f"{r.key}-tank-{tank.pk}", max(r.due_on, today), f"{r.title}: {tank.name}", r.why)
        for r in reminders
    ]
    if not told:
        # A calendar has one component at least (RFC 5545, 3.6), and programs take an empty one for
        # broken. Dated back, this entry is seen on subscribing and is in nobody's way later.
        told = [(f"nothing-due-tank-{tank.pk}", made_on, f"{NOTHING}: {tank.name}", HOW_IT_FILLS)]
    for name, day, summary, words in told:
        event = day_event(day, summary=summary, words=f"{words}\n{url}", now=now)
        event.add("uid", f"{name}@{host}")
        calendar.add_component(event)
    return calendar.to_ical()


def day_event(day, *, summary, words, now):
    """Return an Event of one whole day that blocks no time."""
    event = Event()
    event.add("dtstamp", now)
    event.add("dtstart", day)
    event.add("dtend", day + dt.timedelta(days=1))
    event.add("summary", summary)
    event.add("description", words)
    event.add("transp", "TRANSPARENT")
    return event


def days_of(plan, notes, rows, *, unit):
    """Return (number, day, words) of every step ahead, or of the one that waits."""
    steps = list(plan.steps.all())
    result = following_of(plan, notes, rows)
    ahead = result.days_ahead(len(steps), plan.every_days, plan.tank.today())
    of = "The whole tank" if plan.whole_tank else plan.coral.name
    if result.state in (PAUSED, STALE, WAITING) and not ahead:
        day = result.why.on if result.why and result.state != STALE else result.due_on
        words = state_words(plan, result, len(steps), watched_coral(plan, result, notes))
        return [(result.position, day, f"{of}: {words}")]
    return [
        (number, day, f"{of}: {setting_words(plan, steps[number - 1].setting, unit)}")
        for number, day in ahead
    ]
