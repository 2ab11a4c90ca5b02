"""Where a trial stands: what is due, what the light log shows, and its score."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from apps.corals.models import Coral, HealthNote
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.comparison import P_CLAIM
from apps.outcomes.association.events import corals_with_notes, severity_of
from apps.outcomes.exposure.exposure import DAY, LightBook
from apps.outcomes.models import Trial, TrialCoral
from apps.photics.causes.start_trial import SETTLE_DAYS, StartScore, start_gains, start_score

# A step was done as planned when its log is within this of the planned factor [1].
FACTOR_SLACK = 0.15
Seen = HealthNote.Seen


class NotedCoral(Protocol):
    """A coral of a trial with its notes."""

    @property
    def starts_on(self) -> dt.date: ...
    @property
    def notes(self) -> tuple[HealthNote, ...]: ...


@dataclass(frozen=True)
class TrialCoralStatus:
    coral: Coral
    starts_on: dt.date
    stepped: bool  # its day has come
    steps_today: bool  # its day is this one
    notes: tuple[HealthNote, ...]  # of the trial's days, oldest first
    noted_today: bool
    logged_factor: float | None  # light after its day for 1 before, as the log has it
    as_planned: bool


@dataclass(frozen=True)
class TrialStatus:
    trial: Trial
    state: str  # "waiting", "running", "paused", "stopped" or "done"
    words: str
    corals: tuple[TrialCoralStatus, ...]  # the earliest day first
    due_on: dt.date | None  # the next day of notes
    pausing: HealthNote | None  # the note that paused it
    score: StartScore | None
    verdict: str
    reason: str
    possible_p: float  # the least p its corals and days can give


def trial_status(trial: Trial) -> TrialStatus:
    """Return the TrialStatus of a trial as of today at its tank."""
    tank, today = trial.tank, trial.tank.today()
    book = LightBook(tank, corals_with_notes(tank), tank_light(tank))
    draws = sorted(trial.draws.all(), key=lambda draw: draw.starts_on)
    rows = tuple(coral_status(book, draw, today) for draw in draws)
    pausing = pausing_note(trial, rows)
    state = state_of(trial, pausing, today)
    score = score_of(trial, rows) if state == "done" else None
    verdict, reason = judged(state, score, rows)
    due = next((day for day in trial.note_days if day >= today), None)
    return TrialStatus(
        trial=trial,
        state=state,
        words=STATE_WORDS[state],
        corals=rows,
        due_on=due if state in ("waiting", "running") else None,
        pausing=pausing if state == "paused" else None,
        score=score,
        verdict=verdict,
        reason=reason,
        possible_p=len(trial.starts) ** -float(len(rows) or 1),
    )


STATE_WORDS = {
    "waiting": "begins soon",
    "running": "running",
    "paused": "paused",
    "stopped": "stopped early",
    "done": "done",
}


def state_of(trial: Trial, pausing: HealthNote | None, today: dt.date) -> str:
    if trial.stopped_on:
        return "stopped"
    if today < trial.began_on:
        return "waiting"
    if today > trial.ends_on:
        return "done"
    return "paused" if pausing else "running"


def coral_status(book: LightBook, draw: TrialCoral, today: dt.date) -> TrialCoralStatus:
    trial = draw.trial
    coral = next((c for c in book.corals if c.pk == draw.coral_id), draw.coral)
    notes = tuple(n for n in coral.notes.all() if trial.began_on <= n.noted_on <= trial.ends_on)
    result = logged_factor(book, coral, draw.starts_on, today)
    return TrialCoralStatus(
        coral=coral,
        starts_on=draw.starts_on,
        stepped=draw.starts_on <= today,
        steps_today=draw.starts_on == today,
        notes=notes,
        noted_today=any(note.noted_on == today for note in notes),
        logged_factor=result,
        as_planned=result is not None and abs(result / trial.factor - 1) <= FACTOR_SLACK,
    )


def logged_factor(book: LightBook, coral: Coral, day: dt.date, today: dt.date) -> float | None:
    """Return the light two days after a step for 1 the day before; None before, or unknown.

    In daily light where the hours are known, else in PAR.
    """
    if today < day:
        return None
    after_day = min(day + 2 * DAY, today + DAY)
    before, after = (book.light_at(coral, book.eve(on)) for on in (day, after_day))
    if before is None or after is None:
        return None
    if before.dli_mol and after.dli_mol is not None:
        return after.dli_mol / before.dli_mol
    return after.par_umol / before.par_umol


def pausing_note(trial: Trial, rows: Sequence[NotedCoral]) -> HealthNote | None:
    """Return the newest note after a coral's step that the keeper has not gone on from.

    Bleaching pauses any trial; paling, one of more light.
    """
    harm = {Seen.BLEACHING} if trial.question == Trial.Question.LESS else set(HealthNote.LIGHTER)
    result = [
        note
        for row in rows
        for note in row.notes
        if note.shows(harm)
        and note.noted_on >= row.starts_on
        and (trial.resumed_on is None or note.noted_on > trial.resumed_on)
    ]
    return max(result, key=lambda note: (note.noted_on, note.pk), default=None)


def severity(question: str, note: HealthNote) -> int:
    """Return how much of what the trial asks about a note shows: 0 none, to 6 strong bleaching."""
    if Trial.Question(question) is Trial.Question.MORE:
        return note.strength if note.shows(HealthNote.DARKER) else 0
    return severity_of(note) if note.shows(HealthNote.LIGHTER) else 0


def score_of(trial: Trial, rows: Sequence[TrialCoralStatus]) -> StartScore | None:
    """Return the StartScore of a trial that ran to its end, None where notes are too few."""
    starts = [day.toordinal() for day in trial.starts]
    gains = [
        start_gains(
            [note.noted_on.toordinal() for note in row.notes],
            [severity(trial.question, note) for note in row.notes],
            starts,
            settle_days=SETTLE_DAYS,
        )
        for row in rows
    ]
    try:
        return start_score(gains, [draw.drawn for draw in trial.draws.all()])
    except ValueError:
        return None


def judged(
    state: str, score: StartScore | None, rows: Sequence[TrialCoralStatus]
) -> tuple[str, str]:
    """Return (verdict, reason) in words, by stated rules."""
    if state != "done":
        return "", ""
    if not any(row.as_planned for row in rows):
        return "No score", (
            "The light log shows the planned step on none of the drawn days. Without the step "
            "there is nothing to score; if it was done, enter it with its day."
        )
    if score is None:
        return "No score", (
            "Too few notes: each coral needs two before the first day that could have been drawn, "
            f"and two from {SETTLE_DAYS} days after the last."
        )
    chance = f"by the draw alone, so much would come {chance_words(score.p_better)}"
    if score.gain > 0 and score.p_better <= P_CLAIM:
        return "The step helped", f"The corals were better after it; {chance}."
    if score.gain < 0 and score.p_worse <= P_CLAIM:
        return "It went the other way", (
            "The corals were worse after the step; by the draw alone, so much would come "
            f"{chance_words(score.p_worse)}."
        )
    return "Cannot tell", (
        f"No clear change: {chance}. That is no proof that the light has no part; the least these "
        f"days and corals could have shown is {chance_words(score.smallest_p)}."
    )


def chance_words(p: float) -> str:
    """Return a chance as so many in a hundred or a thousand."""
    return f"{100 * p:.0f} times in 100" if p >= 0.0095 else f"{1000 * p:.1f} times in 1000"
