"""From a tank's rows to the cases of its unhappy corals; the number of queries does not grow."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from uuid import UUID

from apps.corals.condition import looks_well
from apps.corals.coral.light_plans import LIGHT_PLANS, LightPlan
from apps.corals.models import Coral, Photo
from apps.lightmap.lightmap import tank_light
from apps.lightmap.spot_light import SpotLight
from apps.outcomes.association.correlation import (
    Step,
    largest_steps,
    moves,
    steps_before,
    why_unknown,
)
from apps.outcomes.association.events import EPISODE_DAYS, TOGETHER_DAYS, corals_with_notes
from apps.outcomes.case.case_facts import (
    FRESH_DAYS,
    CaseFacts,
    CaseLight,
    Others,
    Shift,
    Sign,
)
from apps.outcomes.case.case_rules import CaseJudgement, judge_case
from apps.outcomes.case.trouble import SIGNS, Trouble, trouble_of
from apps.outcomes.case.water_ranges import WaterBefore, water_before
from apps.outcomes.exposure.exposure import DAY, LightBook, band_place
from apps.outcomes.exposure.visit_exposure import VisitExposure, visit_exposure
from apps.outcomes.models import CORALS_COMPARED
from apps.tanks.models import Tank

# Light this near another's counts as about the same [1]. Our own choice.
SAME_LIGHT_FACTOR = 1.25


@dataclass(frozen=True)
class Case:
    """One coral's case: what is known of it, and what it comes to."""

    coral: Coral
    trouble: Trouble
    facts: CaseFacts
    judgement: CaseJudgement
    light: SpotLight | None  # on the eve of the first note
    light_now: SpotLight | None
    exposure: VisitExposure | None
    steps: tuple[Step, ...]
    photo: tuple[UUID, dt.date] | None
    plan: LightPlan | None
    can_try: bool  # whether a trial in this tank has corals to compare


class CaseBook:
    """All that the cases of a tank are gathered from, read once."""

    def __init__(self, tank: Tank, now: dt.datetime, book: LightBook | None = None) -> None:
        """Take the LightBook of a page that has one already."""
        self.tank, self.now = tank, now
        self.today = now.astimezone(tank.zone).date()
        book = book or LightBook(tank, corals_with_notes(tank), tank_light(tank))
        if not book.has_map:
            book = LightBook(tank, book.corals, tank_light(tank), takes_stated=True)
        self.book = book

    @cached_property
    def troubles(self) -> dict[int, Trouble]:
        """The Trouble of each coral that ever had one, by the coral's key."""
        pairs = ((coral.pk, trouble_of(coral)) for coral in self.book.corals)
        return {pk: trouble for pk, trouble in pairs if trouble}

    @cached_property
    def can_try(self) -> bool:
        """Whether enough living corals have a spot, so that a trial could compare them."""
        placed = [c for c in self.book.corals if c.gone_on is None and c.spot_on(self.today)]
        return len(placed) >= CORALS_COMPARED

    @cached_property
    def water(self) -> WaterBefore:
        """The water log before the troubles of all unhappy corals."""
        return water_before(self.tank, [self.troubles[c.pk].first_on for c in self.unhappy])

    def water_of(self, trouble: Trouble) -> WaterBefore:
        """Return the water log before a trouble, read by itself where it is over."""
        is_over = trouble not in [self.troubles[coral.pk] for coral in self.unhappy]
        return water_before(self.tank, [trouble.first_on]) if is_over else self.water

    @cached_property
    def plans(self) -> list[LightPlan]:
        return LIGHT_PLANS.collect(self.tank, self.now)

    @cached_property
    def photos(self) -> dict[int, tuple[UUID, dt.date]]:
        """The newest photo of each unhappy coral, by the coral's key."""
        rows = Photo.objects.filter(
            note__coral__in=list(self.troubles), note__removed_at__isnull=True
        ).order_by("note__noted_on", "pk")
        return {
            pk: (key, on)
            for pk, key, on in rows.values_list("note__coral", "key", "note__noted_on")
        }

    @cached_property
    def unhappy(self) -> list[Coral]:
        """The living corals that still looked unwell when last noted, the most urgent first."""
        corals = [
            coral
            for coral in self.book.corals
            if coral.gone_on is None
            and coral.pk in self.troubles
            and self.troubles[coral.pk].well_on is None
        ]
        return sorted(corals, key=self.urgency)

    @cached_property
    def mended(self) -> list[tuple[Coral, Trouble]]:
        """The living corals that looked unwell once and better since, the latest first."""
        living = [(c, self.troubles[c.pk]) for c in self.book.corals if c.pk in self.troubles]
        over = [(c, t) for c, t in living if c.gone_on is None and t.well_on is not None]
        return sorted(over, key=lambda pair: (pair[1].well_on, pair[0].name), reverse=True)

    def urgency(self, coral: Coral) -> tuple[object, ...]:
        """Sort tissue loss first, old notes last, then the poorest condition, the newest note."""
        trouble = self.troubles[coral.pk]
        newest = trouble.notes[-1]
        age = (self.today - trouble.last_on).days
        return (
            age > FRESH_DAYS,
            trouble.sign is not Sign.TISSUE_LOSS,
            newest.condition if newest.condition is not None else 6 - newest.strength,
            age,
            coral.name,
        )

    def case_of(self, coral: Coral) -> Case | None:
        """Return the Case of one of the tank's corals, None where no trouble was ever noted."""
        trouble = self.troubles.get(coral.pk)
        if trouble is None:
            return None
        book, eve = self.book, self.book.eve(trouble.first_on)
        light = book.light_at(coral, eve)
        steps = steps_before(book, coral, eve)
        plan = next((p for p in self.plans if p.coral_pk in (coral.pk, None)), None)
        light_now = book.light_at(coral, self.now)
        acted = self.was_acted_on(coral, eve)
        facts = replace(
            self.noted_facts(coral, trouble),
            light=case_light(book, coral, trouble, light, light_now, steps, was_acted_on=acted)
            if light
            else None,
            unknown="" if light else why_unknown(book, coral, trouble.first_on),
            others=others(book, coral, trouble, light, self.today),
            plan_under_way=plan is not None,
        )
        return Case(
            coral=coral,
            trouble=trouble,
            facts=facts,
            judgement=judge_case(facts),
            light=light,
            light_now=light_now,
            exposure=visit_exposure(book, coral, trouble.first_on) if light else None,
            steps=largest_steps(steps),
            photo=self.photos.get(coral.pk),
            plan=plan,
            can_try=self.can_try,
        )

    def was_acted_on(self, coral: Coral, since: dt.datetime) -> bool:
        """Return whether a coral was moved, or the tank's light changed, after a moment."""
        changes = self.book.light.history.between(since, self.now)
        return any(change.touches_light for change in changes) or any(
            moves(self.book, coral, since, self.now)
        )

    def noted_facts(self, coral: Coral, trouble: Trouble) -> CaseFacts:
        """Return the CaseFacts of what was noted and logged, without the light."""
        water = self.water_of(trouble)
        return CaseFacts(
            sign=trouble.sign,
            seen=trouble.seen,
            today=self.today,
            first_on=trouble.first_on,
            last_on=trouble.last_on,
            came_on=coral.added_on,
            notes=len(trouble.notes),
            slight=trouble.is_slight,
            other_eyes=trouble.other_eyes,
            well_on=trouble.well_on,
            gone_on=coral.gone_on,
            keepers_band=coral.band_low_umol is not None,
            vague_band=coral.band_low_umol is None and coral.group == Coral.Group.OTHER,
            water=water.harmful(trouble.first_on),
            out_of_range=water.out_of_range(trouble.first_on),
        )


def case_light(
    book: LightBook,
    coral: Coral,
    trouble: Trouble,
    light: SpotLight,
    light_now: SpotLight | None,
    steps: Sequence[Step],
    *,
    was_acted_on: bool,
) -> CaseLight:
    """Return the CaseLight of a coral whose light on the eve of its first note is known."""
    place = band_place(light, coral)
    at_now = band_place(light_now, coral).state if light_now else None
    since = light_now.par_umol / light.par_umol if light_now and light.par_umol else None
    if not was_acted_on:
        # Readings since then may say otherwise what light it has; they gave it none.
        since = 1.0
    return CaseLight(
        place=place.state,
        place_sure=place.sure,
        place_now=at_now,
        shift=shift_before(book, coral, trouble, steps),
        since=since,
        low_umol=light.low_umol,
        high_umol=light.high_umol,
        measured=light.measured,
        extrapolated=light.extrapolated,
    )


def shift_before(
    book: LightBook, coral: Coral, trouble: Trouble, steps: Sequence[Step]
) -> Shift | None:
    """Return the Shift that says most of a trouble: at the largest steps, and on its first day.

    Just after each step its light is set against what it was used to until then: weeks later it
    would have got used to it. Of paling the largest rise counts, of browning the largest fall;
    where none went that way, the largest the other way.
    """
    ends = {step.on + DAY: step for step in largest_steps(steps)}
    days = [*(day for day in ends if day < trouble.first_on), trouble.first_on]
    seen = [(visit_exposure(book, coral, day), ends.get(day)) for day in days]
    shifts = [shift_at(book, coral, exposure, step) for exposure, step in seen if exposure]
    return max(shifts, key=lambda shift: fit_of(shift, trouble.sign), default=None)


def shift_at(book: LightBook, coral: Coral, exposure: VisitExposure, step: Step | None) -> Shift:
    """Return the Shift of one VisitExposure just after a Step, or on a day without one."""
    ends = exposure.ratio, exposure.ratio_low, exposure.ratio_high
    if step is None:
        return Shift(*ends)
    light = book.light_at(coral, book.eve(step.on))
    place_before = band_place(light, coral).state if light else ""
    return Shift(*ends, kind=step.kind, on=step.on, place_before=place_before)


def fit_of(shift: Shift, sign: Sign) -> tuple[bool, float]:
    """Sort Shifts by whether they went the way of a sign, then by how far, with a change first."""
    ways = {Sign.LIGHTER: ("rose",), Sign.DARKER: ("fell",)}.get(sign, ("rose", "fell"))
    return shift.way in ways, abs(math.log(shift.ratio))


def others(
    book: LightBook,
    coral: Coral,
    trouble: Trouble,
    light: SpotLight | None,
    today: dt.date,
) -> Others:
    """Return what the tank's other corals did about the time of a trouble."""
    eve = book.eve(trouble.first_on)
    counts = {"kin_well": 0, "kin_same": 0, "near_well": 0, "near_same": 0}
    turned, living = 1, 1
    for other in book.corals:
        here = other.added_on <= trouble.first_on and not (
            other.gone_on and other.gone_on < trouble.first_on
        )
        if other.pk == coral.pk or not here:
            continue
        living += 1
        turned += turned_with(other, trouble)
        kind = "kin" if other.group == coral.group else "near"
        looked = looked_then(other, trouble, today)
        if looked and light and is_same_light(light, book.light_at(other, eve)):
            counts[f"{kind}_{looked}"] += 1
    return Others(**counts, turned=turned, living=living)


def is_same_light(light: SpotLight, other: SpotLight | None) -> bool:
    """Tell whether another's light is about the same, whatever it wants."""
    if other is None or min(light.par_umol, other.par_umol) <= 0:
        return False
    return abs(math.log(other.par_umol / light.par_umol)) <= math.log(SAME_LIGHT_FACTOR)


def turned_with(other: Coral, trouble: Trouble) -> bool:
    """Tell whether another coral got worse within TOGETHER_DAYS of a trouble's first note.

    One that was unwell in its last note before, a month or less ago, did not get worse then.
    """
    start = trouble.first_on - dt.timedelta(days=TOGETHER_DAYS)
    until = trouble.first_on + dt.timedelta(days=TOGETHER_DAYS)
    notes = list(other.notes.all())
    before = [n for n in notes if n.noted_on < start][-1:]
    if any((start - n.noted_on).days <= EPISODE_DAYS and not looks_well(n) for n in before):
        return False
    return any(start <= n.noted_on <= until and not looks_well(n) for n in notes)


def looked_then(other: Coral, trouble: Trouble, today: dt.date) -> str:
    """Return how another coral looked from two weeks before a trouble on: "same", "well" or "".

    "same" where it showed the same kind of sign within TOGETHER_DAYS; "well" where all of its
    notes from then until two weeks after the trouble's last note say so.
    """
    reach = dt.timedelta(days=TOGETHER_DAYS)
    until = min(trouble.last_on + reach, today)
    notes = [n for n in other.notes.all() if trouble.first_on - reach <= n.noted_on <= until]
    kinds = dict(SIGNS).get(trouble.sign, ())
    if any(note.shows(kinds) for note in notes):
        return "same"
    return "well" if notes and all(looks_well(note) for note in notes) else ""
