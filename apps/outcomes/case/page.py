"""A case as a page shows it: frozen records of words, numbers and links."""

import datetime as dt
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.text import capfirst

from apps.common.pages_above import page_above
from apps.common.units import percent_words
from apps.corals.models import Band, HealthNote
from apps.outcomes.association.correlation import LOOKBACK_DAYS, Step
from apps.outcomes.case.case_facts import CaseFacts, Sign
from apps.outcomes.case.case_rules import OF_A_CAUSE, NextStep
from apps.outcomes.case.case_words import (
    TWICE_PERCENT,
    day,
    how_sure,
    sentence,
    settles,
    step_words,
    why_so_sure,
)
from apps.outcomes.case.gathering import Case
from apps.outcomes.models import Trial

# What a note of a sign is filled in with.
SEEN: dict[Sign, str] = {
    Sign.TISSUE_LOSS: str(HealthNote.Seen.TISSUE_LOSS),
    Sign.LIGHTER: str(HealthNote.Seen.PALING),
    Sign.DARKER: str(HealthNote.Seen.BROWNING),
}

# What a trial of a sign asks.
TRIAL_OF: dict[Sign, str] = {
    Sign.LIGHTER: str(Trial.Question.LESS),
    Sign.DARKER: str(Trial.Question.MORE),
}

# A change of light smaller than this is not worth a number [1].
HARDLY = 0.05
# An interval narrower than this is not shown [1].
EXACT = 0.02
# Changes shown at once, the newest; the others fold.
CHANGES_MAX = 3


@dataclass(frozen=True)
class Change:
    """One thing that changed before, with its day."""

    on: dt.date
    words: str


@dataclass(frozen=True)
class Usual:
    """Light for 1 that the coral was used to [1], and the day of the change it follows."""

    ratio: float
    low: float
    high: float
    on: dt.date | None

    @property
    def words(self) -> str:
        """How much light that is: "40 % more", "as much as usual"."""
        return amount(self.ratio)

    @property
    def range_words(self) -> str:
        """Its interval; empty where it is hardly wider than the lamps' own numbers."""
        if self.high - self.low < EXACT:
            return ""
        return f"{amount(self.low)} to {amount(self.high)}"


def amount(ratio: float) -> str:
    """Return a light for 1 of usual [1] in words."""
    percent = 100 * (ratio - 1)
    if abs(ratio - 1) < HARDLY:
        return "as much as usual"
    if percent >= TWICE_PERCENT:
        return f"{ratio:.1f} times as much"
    return f"{percent_words(abs(percent))} {'more' if percent > 0 else 'less'}"


@dataclass(frozen=True)
class StepLink:
    """The next step: what its button says, a sentence, and where it leads."""

    key: str
    button: str
    words: str
    url: str
    is_sent: bool = False  # sent as a form; others are plain links


@dataclass(frozen=True)
class CasePage:
    """All that a case's card and page say beside its numbers."""

    case: Case
    seen: str  # "" where it got better: the sentence says so
    seen_when: str
    sentence: str
    how_sure: str
    sure_dots: int | None  # of two; None where no cause is named
    why_so_sure: str
    settles: str
    step: StepLink
    band: Band
    changes: tuple[Change, ...]
    more_changes: tuple[Change, ...]
    hardly: int  # further changes that hardly changed its light
    usual: Usual | None
    others_words: str
    shows_light_now: bool  # it is another than before the first note
    event_pk: int | None  # a note of the event that the statistics know, if any
    trial_url: str  # where a trial of it is planned; "" where light can't be tried on it
    is_urgent: bool


def case_page(case: Case) -> CasePage:
    """Return the CasePage of a Case."""
    facts, judgement = case.facts, case.judgement
    changes = changes_before(case)
    names_cause = judgement.finding in OF_A_CAUSE
    return CasePage(
        case=case,
        seen="" if facts.well_on else case.trouble.notes[-1].in_words(),
        seen_when=seen_when(case),
        sentence=sentence(facts, judgement),
        how_sure=how_sure(facts, judgement),
        sure_dots=int(judgement.sureness) if names_cause else None,
        why_so_sure=why_so_sure(facts, judgement),
        settles=settles(judgement),
        step=step_link(case),
        band=case.coral.band(case.light.full_hours if case.light else None),
        changes=changes[-CHANGES_MAX:],
        more_changes=changes[:-CHANGES_MAX],
        hardly=sum(is_hardly(step) for step in case.steps),
        usual=usual_light(case),
        others_words=others_words(facts),
        shows_light_now=shows_light_now(case),
        event_pk=case.trouble.notes[-1].pk if facts.sign in (Sign.LIGHTER, Sign.DARKER) else None,
        trial_url=trial_url(case),
        is_urgent=facts.sign is Sign.TISSUE_LOSS and judgement.step is NextStep.WATER,
    )


def seen_when(case: Case) -> str:
    """Say when it was noted: "2 notes, 3 May to 17 May", and what, where that is over."""
    trouble, today = case.trouble, case.facts.today
    count = len(trouble.notes)
    notes = "one note" if count == 1 else f"{count} notes"
    ends = [day(trouble.first_on, today)]
    if trouble.first_on != trouble.last_on:
        ends.append(day(trouble.last_on, today))
    before = f"{trouble.seen}: " if trouble.well_on else ""
    return f"{before}{notes}, {' to '.join(ends)}"


def changes_before(case: Case) -> tuple[Change, ...]:
    """Return what changed in the weeks before a case's first note, oldest first."""
    facts = case.facts
    changes = [Change(s.on, change_words(s)) for s in case.steps if not is_hardly(s)]
    if 0 <= facts.days_here <= LOOKBACK_DAYS:
        # Where it was placed that day goes without saying.
        changes = [c for c in changes if c.on != facts.came_on]
        changes.append(Change(facts.came_on, "came to this tank"))
    changes += [Change(item.on, item.words) for item in facts.water]
    beyond = facts.out_of_range
    if beyond and not any(beyond.words in item.words for item in facts.water):
        changes.append(Change(beyond.on, f"{beyond.words}, out of its usual range"))
    return tuple(sorted(changes, key=lambda change: change.on))


def is_hardly(step: Step) -> bool:
    """Tell whether a step hardly changed the coral's light."""
    same_hours = step.hours_after is None
    return same_hours and step.factor is not None and abs(step.factor - 1) < HARDLY


def change_words(step: Step) -> str:
    """Say what one step did to the light at the coral's own spot."""
    what = {"placed": "placed here", "moved": "moved"}.get(step.kind, step.words)
    parts = [what]
    if step.factor:
        parts.append(light_words(step.factor))
    if step.hours_after is not None:
        before = "" if step.hours_before is None else f"from {step.hours_before:.1f} "
        parts.append(f"{before}to {step.hours_after:.1f} hours of full light a day")
    return ": ".join([parts[0], ", ".join(parts[1:])]) if len(parts) > 1 else what


def light_words(factor: float) -> str:
    """Say what a factor did: "its light rose by 23 %"."""
    if abs(factor - 1) < HARDLY:
        return "its light hardly changed"
    return f"its light {'rose' if factor > 1 else 'fell'} by {100 * abs(factor - 1):.0f}\u00a0%"


def others_words(facts: CaseFacts) -> str:
    """Say what the other corals in about the same light did; "" where none was noted."""
    others = facts.others
    groups = (
        (others.kin_well, others.kin_same, "its kind"),
        (others.near_well, others.near_same, "other kinds"),
    )
    parts = []
    for well, same, kind in groups:
        did = [f"{well} looked well"] if well else []
        did += [f"{same} did the same"] if same else []
        if did:
            parts.append(f"{kind}: {', '.join(did)}")
    return capfirst("; ".join(parts)) + "." if parts else ""


def shows_light_now(case: Case) -> bool:
    """Tell whether the light of today is known and another than before the first note."""
    since = case.facts.light.since if case.facts.light else None
    return case.light_now is not None and since is not None and abs(since - 1) >= HARDLY


def usual_light(case: Case) -> Usual | None:
    """Return the Usual just after the change that says most, else on the day of the first note."""
    shift = case.facts.light.shift if case.facts.light else None
    if shift is None:
        return None
    changed_on = shift.on if shift.way != "steady" else None
    return Usual(shift.ratio, shift.low, shift.high, changed_on)


def step_link(case: Case) -> StepLink:
    """Return the next step of a Case with its address, filled in."""
    step = case.judgement.step
    button, words = step_words(case.facts, case.judgement)
    return StepLink(step.value, button, words, step_url(case), is_sent=step is NextStep.READ)


def step_url(case: Case) -> str:
    """Return where the next step is taken, filled in; "" where there is none."""
    coral, facts, step = case.coral, case.facts, case.judgement.step
    spot = coral.spot_on(facts.today)
    seen = SEEN.get(facts.sign, "") if step is NextStep.WAIT and not facts.well_on else ""
    note = with_query(reverse("note_new", args=[coral.pk]), seen=seen)
    urls = {
        NextStep.NOTHING: "",
        NextStep.LOOK: note,
        NextStep.WAIT: note,
        NextStep.WATER: with_query(
            reverse("water_event_new", args=[coral.tank_id]),
            kind=facts.out_of_range.kind if facts.out_of_range else "",
        ),
        NextStep.READ: reverse("coral_case_check", args=[coral.pk]),
        NextStep.PLAN: page_above("acclimation_new", coral.pk),
        NextStep.FOLLOW: case.plan.url if case.plan else "",
        NextStep.MOVE: with_query(page_above("place_coral", coral.tank_id), coral=coral.pk),
        NextStep.PLACE: reverse("spot_new", args=[coral.pk]),
        NextStep.MEND_SPOT: reverse("spot_edit", args=[spot.pk]) if spot else "",
        NextStep.SURVEY: reverse("survey_new", args=[coral.tank_id]),
    }
    return urls[step]


def trial_url(case: Case) -> str:
    """Return where a trial of this coral's light is planned, filled in; "" where none can be."""
    coral, facts = case.coral, case.facts
    question = TRIAL_OF.get(facts.sign)
    if question is None or not case.can_try or facts.gone_on or coral.spot_on(facts.today) is None:
        return ""
    return with_query(reverse("trial_new", args=[coral.tank_id]), question=question, coral=coral.pk)


def with_query(url: str, **values: object) -> str:
    """Return an address with what is to be filled in; empty values are left out."""
    query = urlencode({name: value for name, value in values.items() if value})
    return f"{url}?{query}" if query else url
