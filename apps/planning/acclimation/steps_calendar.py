"""The steps still to take in a tank, and what is stale, as an iCalendar text (RFC 5545).

Each is one day-long event.
"""

import datetime as dt
import uuid
from collections.abc import Sequence

from icalendar import Alarm, Calendar, Event

from apps.accounts.models import User
from apps.corals.models import HealthNote
from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of, notes_by_plan
from apps.planning.acclimation.following import PAUSED, STALE, WAITING
from apps.planning.acclimation.words import setting_words, state_words, watched_coral
from apps.planning.models import Acclimation
from apps.tanks.models import Tank
from apps.tanks.reminding import Reminder

# Its name among the calendar's, its day, its title, and what it says.
Entry = tuple[str, dt.date, str, str]

# From the start of a day to its alarm.
MORNING = dt.timedelta(hours=9)
# The space of our entries' names among all there are (RFC 9562).
ENTRIES = uuid.UUID("3f1c8a52-5f0e-4d5b-9f43-6a0c7d3f9b21")
WATCH = "Watch the corals the day after. Note paling at once: the plan pauses and steps back."
NOTHING = "Nothing is due"
HOW_IT_FILLS = (
    "This calendar works. Steps of acclimation plans, and what has grown stale, will stand on "
    "their days here by themselves; this entry goes then."
)


def steps_calendar(
    tank: Tank,
    keeper: User,
    *,
    now: dt.datetime,
    url: str,
    made_on: dt.date,
    reminders: Sequence[Reminder] = (),
) -> bytes:
    """Return the calendar of a tank as bytes; lengths are in the keeper's unit.

    `reminders` are the tank's Reminders, shown as further days, and `made_on` is the day since
    which the calendar can be subscribed to.

    Days are counted from what was done, so a subscribed phone follows a late step by itself.
    """
    calendar = empty_calendar(f"{tank.name}: light")
    entries = step_entries(tank, keeper, now)
    today = now.astimezone(tank.zone).date()
    # A reminder long due stands on today, not in the past.
    entries += [
        (f"{r.key}-tank-{tank.pk}", max(r.due_on, today), f"{r.title}: {tank.name}", r.why)
        for r in reminders
    ]
    if not entries:
        # A calendar has one component at least (RFC 5545, 3.6), and programs take an empty one for
        # broken. Dated back, this entry is seen on subscribing and is no nuisance later.
        entries = [
            (f"nothing-due-tank-{tank.pk}", made_on, f"{NOTHING}: {tank.name}", HOW_IT_FILLS)
        ]
    return written(calendar, tank, entries, now=now, url=url)


def plan_calendar(plan: Acclimation, keeper: User, *, now: dt.datetime, url: str) -> bytes:
    """Return the steps ahead of one plan as a calendar to import once, empty where none is ahead.

    Its events are those of the tank's calendar, so one that is subscribed to shows none twice.
    """
    calendar = empty_calendar(f"{plan.tank.name}: {plan}")
    return written(calendar, plan.tank, entries_of([plan], keeper, now), now=now, url=url)


def written(
    calendar: Calendar, tank: Tank, entries: Sequence[Entry], *, now: dt.datetime, url: str
) -> bytes:
    """Return a tank's calendar with Entries as bytes; `url` is where each is followed up."""
    for name, day, summary, words in entries:
        event = day_event(day, summary=summary, words=f"{words}\n{url}", now=now)
        event.add("uid", uid_of(tank, name))
        event.add_component(alarm(summary))
        calendar.add_component(event)
    text: bytes = calendar.to_ical()
    return text


def uid_of(tank: Tank, name: str) -> str:
    """Return the name of an entry in all calendars: the same under every address of a site."""
    return str(uuid.uuid5(ENTRIES, f"{tank.pk} {tank.created_at.isoformat()} {name}"))


def alarm(summary: str) -> Alarm:
    """Return an Alarm in the morning of a whole day."""
    result = Alarm()
    result.add("action", "DISPLAY")
    result.add("description", summary)
    result.add("trigger", MORNING)
    return result


def empty_calendar(name: str) -> Calendar:
    """Return a Calendar without entries."""
    calendar = Calendar()
    calendar.add("prodid", "-//reeflog//light//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    # A phone that subscribes may come back in half a day.
    calendar.add("refresh-interval", dt.timedelta(hours=12), parameters={"value": "DURATION"})
    return calendar


def step_entries(tank: Tank, keeper: User, now: dt.datetime) -> list[Entry]:
    """Return the Entries of the steps ahead in a tank, or of the plans that wait."""
    plans = list(Acclimation.objects.visible_to(keeper).filter(tank=tank).with_all())
    return entries_of(plans, keeper, now)


def entries_of(plans: Sequence[Acclimation], keeper: User, now: dt.datetime) -> list[Entry]:
    """Return the Entries of the steps ahead in plans of one tank, or of those that wait."""
    notes = notes_by_plan(plans)
    rows = rig_in_force(plans[0].tank, now) if plans else []
    return [
        (f"acclimation-{plan.pk}-{number}", day, words, WATCH)
        for plan in plans
        for number, day, words in days_of(plan, notes[plan.pk], rows, unit=keeper.units)
    ]


def day_event(day: dt.date, *, summary: str, words: str, now: dt.datetime) -> Event:
    """Return an Event of one whole day that blocks no time."""
    event = Event()
    event.add("dtstamp", now)
    event.add("dtstart", day)
    event.add("dtend", day + dt.timedelta(days=1))
    event.add("summary", summary)
    event.add("description", words)
    event.add("transp", "TRANSPARENT")
    return event


def days_of(
    plan: Acclimation, notes: Sequence[HealthNote], rows: Sequence[HungFixture], *, unit: str
) -> list[tuple[int, dt.date, str]]:
    """Return (number, day, words) of every step ahead, or of the one that waits."""
    steps = list(plan.steps.all())
    following = following_of(plan, notes, rows)
    ahead = following.days_ahead(len(steps), plan.every_days, plan.tank.today())
    of = "The whole tank" if plan.whole_tank else plan.coral.name
    if following.state in (PAUSED, STALE, WAITING) and not ahead:
        why = None if following.state == STALE else following.why
        day = why.on if why else following.due_on or plan.starts_on
        words = state_words(plan, following, len(steps), watched_coral(plan, following, notes))
        return [(following.position, day, f"{of}: {words}")]
    return [
        (number, day, f"{of}: {setting_words(plan, steps[number - 1].setting, unit)}")
        for number, day in ahead
    ]
