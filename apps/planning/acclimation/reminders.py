"""What the acclimations of a tank ask for next; their steps ahead the calendar tells itself."""

from django.urls import reverse

from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of, telling_notes_of
from apps.planning.acclimation.following import ARRIVED, RISING, STALE
from apps.planning.acclimation.sheet import state_words, watched_coral
from apps.planning.models import Acclimation
from apps.tanks.reminding import Reminder


def acclimation_reminders(tank, now):
    """Yield the Reminder of each acclimation of a tank that has not arrived."""
    plans = Acclimation.objects.present().filter(tank=tank, coral__removed_at=None).with_all()
    plans = list(plans)
    notes = telling_notes_of(plans)
    rows = rig_in_force(tank, now) if plans else []
    today = now.astimezone(tank.zone).date()
    for plan in plans:
        result = following_of(plan, notes[plan.pk], rows)
        if result.state == ARRIVED:
            continue
        watched = watched_coral(plan, result, notes[plan.pk])
        steps = len(plan.steps.all())
        of = "the whole tank" if plan.whole_tank else plan.coral.name
        rising = result.state == RISING
        late = result.late_days(today)
        titles = {
            RISING: f"Step {result.next_number} of {steps}: {of}",
            STALE: f"Out of date: acclimation of {of}",
        }
        yield Reminder(
            key=f"acclimation-{plan.pk}",
            due_on=result.due_on or (result.why.on if result.why else plan.starts_on),
            title=titles.get(result.state, f"Look after {of}"),
            why=f"The next step of its acclimation{late_words(late)}."
            if rising
            else state_words(plan, result, steps, watched),
            url=reverse("acclimation_detail", args=[plan.pk]),
            in_calendar=False,
        )


def late_words(days):
    """Say how late a step is; empty for one that is on time."""
    return f", late by {days} day{'' if days == 1 else 's'}" if days else ""
