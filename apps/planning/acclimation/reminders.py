"""What the acclimations of a tank need next; their steps ahead stand in the calendar itself."""

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse

from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of, notes_by_plan
from apps.planning.acclimation.following import ARRIVED, RISING, STALE
from apps.planning.acclimation.words import state_words, watched_coral
from apps.planning.models import Acclimation
from apps.tanks.models import Tank
from apps.tanks.reminding import Reminder


def acclimation_reminders(tank: Tank, now: dt.datetime) -> Iterator[Reminder]:
    """Yield the Reminder of each acclimation of a tank that has not arrived."""
    plans = Acclimation.objects.present().filter(tank=tank, coral__removed_at=None).with_all()
    plans = list(plans)
    notes = notes_by_plan(plans)
    rows = rig_in_force(tank, now) if plans else []
    today = now.astimezone(tank.zone).date()
    for plan in plans:
        following = following_of(plan, notes[plan.pk], rows)
        if following.state == ARRIVED:
            continue
        watched = watched_coral(plan, following, notes[plan.pk])
        steps = len(plan.steps.all())
        of = "the whole tank" if plan.whole_tank else plan.coral.name
        rising = following.state == RISING
        late = following.late_days(today)
        titles = {
            RISING: f"Acclimation step {following.next_number} of {steps}: {of}",
            STALE: f"Out of date: acclimation of {of}",
        }
        yield Reminder(
            key=f"acclimation-{plan.pk}",
            due_on=following.due_on or (following.why.on if following.why else plan.starts_on),
            title=titles.get(following.state, f"Look after {of}"),
            why=late_words(late) if rising else state_words(plan, following, steps, watched),
            url=reverse("acclimation_detail", args=[plan.pk]),
            in_calendar=False,
        )


def late_words(days: int) -> str:
    """Say how late a step is; empty for one that is on time."""
    return f"{days} day{'' if days == 1 else 's'} late." if days else ""
