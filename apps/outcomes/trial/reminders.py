"""What a running trial asks for: its next day of notes, and the step of a coral on its day."""

import datetime as dt
from collections.abc import Iterator
from typing import NamedTuple

from django.db.models import Prefetch
from django.urls import reverse

from apps.corals.models import Coral, HealthNote
from apps.outcomes.models import Trial, TrialCoral
from apps.outcomes.trial.status import pausing_note
from apps.tanks.models import Tank
from apps.tanks.reminding import Reminder


class Drawn(NamedTuple):
    """A coral of a trial, the day of its step, and the notes made since the trial began."""

    coral: Coral
    starts_on: dt.date
    notes: tuple[HealthNote, ...]


def trial_reminders(tank: Tank, now: dt.datetime) -> Iterator[Reminder]:
    """Yield the Reminders of a tank's running trials; three queries, whatever they hold."""
    today = now.astimezone(tank.zone).date()
    notes = Prefetch("coral__notes", queryset=HealthNote.objects.present())
    draws = Prefetch(
        "draws", queryset=TrialCoral.objects.select_related("coral").prefetch_related(notes)
    )
    for trial in Trial.objects.present().filter(tank=tank, stopped_on=None).prefetch_related(draws):
        if today <= trial.ends_on:
            yield from reminders_of_trial(trial, today)


def reminders_of_trial(trial: Trial, today: dt.date) -> Iterator[Reminder]:
    """Yield the Reminders of one trial as of a day; one that is paused asks for one thing."""
    rows = [drawn(draw, trial) for draw in trial.draws.all()]
    url = reverse("trial_detail", args=[trial.pk])
    if note := pausing_note(trial, rows):
        yield Reminder(
            f"trial-{trial.pk}-paused", note.noted_on, f"Trial paused: look at {note.coral.name}",
            f"Noted as {note.signs_in_words} after its step. Take the step back.", url,
        )  # fmt: skip
        return
    noted = all(any(note.noted_on == today for note in row.notes) for row in rows)
    ahead = [day for day in trial.note_days if day > today or (day == today and not noted)]
    if ahead:
        names = ", ".join(row.coral.name for row in rows)
        yield Reminder(f"trial-{trial.pk}-notes", ahead[0], "Note the trial’s corals", names, url)
    for row in rows:
        if row.starts_on >= today:
            yield Reminder(
                f"trial-{trial.pk}-step-{row.coral.pk}", row.starts_on,
                f"The trial’s step for {row.coral.name}", trial.step, url,
            )  # fmt: skip


def drawn(draw: TrialCoral, trial: Trial) -> Drawn:
    """Return the Drawn of a TrialCoral read with its coral's notes."""
    notes = tuple(n for n in draw.coral.notes.all() if trial.began_on <= n.noted_on)
    return Drawn(draw.coral, trial.starts[draw.drawn], notes)
