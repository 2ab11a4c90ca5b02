"""The light log, where its tank gets another time zone: its moments, and days cut anew."""

import datetime as dt
from dataclasses import replace

from django.utils import timezone

from apps.lighting.history import LightHistory, light_history
from apps.lighting.models import LightChange
from apps.tanks.models import Tank
from apps.tanks.rezoning import ClockRows, Rezoning

# Days so far back are looked at for being cut anew [d].
LOOK_BACK_DAYS = 366
# Hours of full light that differ by less are the same [h].
SAME_HOURS = 0.005


def light_change_moments(tank: Tank) -> list[ClockRows]:
    """Return a tank's light changes by when they happened, deleted ones too."""
    return [ClockRows(LightChange.objects.filter(tank=tank), "happened_at")]


def recut_days(tank: Tank, rezoning: Rezoning) -> list[str]:
    """Return what becomes of the day programme and of the days on which the light changed."""
    before, now = light_history(tank), timezone.now()
    schedule = before.schedule_at(now)
    if schedule is None:
        return []
    moved = (
        replace(change, happened_at=rezoning.retimed(change.happened_at))
        for change in before.changes
    )
    after = LightHistory(tuple(moved), rezoning.after)
    lines = []
    if before.days_at(now):
        lines.append(f"The day schedule ({schedule.words}) follows the new clock from now on.")
    days = days_of_changes(before, rezoning.before, now) | days_of_changes(
        after, rezoning.after, now
    )
    return [*lines, recut_words(before, after, rezoning, sorted(days))]


def days_of_changes(history: LightHistory, zone: dt.tzinfo, now: dt.datetime) -> set[dt.date]:
    """Return the dates of the last year's changes by a clock."""
    first = now - dt.timedelta(days=LOOK_BACK_DAYS)
    return {c.happened_at.astimezone(zone).date() for c in history.changes if c.happened_at > first}


def recut_words(before, after, rezoning, days):
    """Return how many days have other hours of light, and the most changed one of them."""
    cut = []
    for day in days:
        hours = full_hours(before, day, rezoning.before), full_hours(after, day, rezoning.after)
        if None not in hours and abs(hours[1] - hours[0]) > SAME_HOURS:
            cut.append((day, *hours))
    if not cut:
        return "No day of the last year changes its hours of light."
    day, was, will = max(cut, key=lambda row: abs(row[2] - row[1]))
    count = "1 day gets" if len(cut) == 1 else f"{len(cut)} days of the last year get"
    return (
        f"{count} other hours of light; {day.day} {day:%b %Y} goes from {was:.2f} to {will:.2f} h."
    )


def full_hours(history, day, zone):
    """Return a date's hours at the day's peak, None where nobody entered them [h]."""
    hours = [hours for _, hours in history.day_pieces(day, zone)]
    return None if None in hours else sum(hours)
