"""Everything the pages of a layout plan print, from its stored question and answer."""

import hashlib
from dataclasses import dataclass
from functools import partial

import numpy as np

from apps.common.kept import kept
from apps.common.units import format_length
from apps.drawing.hung import HungDrawing, draw_hung
from apps.photics.layout.answers import Answer
from apps.photics.layout.branch_shadow import branch_shadow
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.question import price_of
from apps.photics.layout.rule import RuleOfThumb, rule_of_thumb
from apps.photics.layout.search import SERVED
from apps.photics.rig.fixture_light import OutputEstimate
from apps.planning.layout.searching import answers_of, share_done
from apps.planning.layout.words import BEST_WORDS, WORTH_TELLING, fix_words, percent_words
from apps.planning.layout_documents import Asked, asked_from_json

# Raised whenever the facts of the same layout come out otherwise, so that kept ones are not shown.
FACTS_VERSION = 1
DAYS_A_YEAR = 365
# Points a shadow is looked at in each zone, at most.
SHADOW_POINTS = 12


@dataclass(frozen=True)
class ZoneFacts:
    """What one zone gets: shares of its points [%] and PAR with its interval [umol m-2 s-1]."""

    zone: object
    in_band_percent: float
    dim_percent: float
    bright_percent: float
    surely_percent: float
    perhaps_percent: float
    mean_umol: float
    low_umol: float
    high_umol: float
    least_umol: float
    most_umol: float
    evenness: float
    from_one_percent: float  # share of the light straight from one fixture
    shadow_percent: float  # what a branch takes of the light behind it

    @property
    def served(self):
        return self.in_band_percent >= 100 * SERVED

    @property
    def state(self):
        """Return "within", "below" or "above" as the zone mostly lies."""
        if self.served:
            return "within"
        return "below" if self.dim_percent >= self.bright_percent else "above"


@dataclass(frozen=True)
class ShadowRow:
    """How hard shadows fall in a zone, and without tubes or bars if it has any."""

    zone_name: str
    from_one_percent: float
    shadow_percent: float
    from_one_before: float | None
    shadow_before: float | None


@dataclass(frozen=True)
class HungRow:
    number: int
    name: str
    fixture: object
    level_percent: float


@dataclass(frozen=True)
class AnswerSheet:
    """One answer as a page prints it."""

    number: int
    answer: Answer
    best_words: tuple[str, ...]
    zones: tuple[ZoneFacts, ...]
    shadows: tuple[ShadowRow, ...]
    rows: tuple[HungRow, ...]
    above: HungDrawing
    front: HungDrawing
    kinds: tuple[tuple[int, str, float], ...]  # how many, of what, optic
    outputs: tuple[tuple[str, OutputEstimate], ...]  # of what, taken for what
    spill_percent: float
    watts: float | None
    kwh_year: float | None
    cost_year: float | None
    price: float | None
    wide_output: bool

    @property
    def served(self):
        return all(zone.served for zone in self.zones)


@dataclass(frozen=True)
class FixTold:
    words: str
    before_percent: float
    after_percent: float
    serves: bool


@dataclass(frozen=True)
class RuleTold:
    """The rule of thumb beside an answer, with the words for each of its factors."""

    rule: RuleOfThumb
    zone_name: str
    count: int
    name: str
    in_band_percent: float
    factors: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class LayoutSheet:
    """A layout plan: its question, how far the search is, its answers."""

    asked: Asked
    started: bool
    finished: bool
    stopped: bool
    done_percent: int
    scored: int
    answers: tuple[AnswerSheet, ...]
    fixes: tuple[FixTold, ...]
    rule: RuleTold | None

    @property
    def law(self):
        """Return K [1/m], and the shares [%] that a pane mirrors and the bottom returns."""
        k, pane, bottom = np.exp(self.asked.question.law.means)
        return {"k_per_m": 100 * k, "pane_percent": 100 * pane, "bottom_percent": 100 * bottom}

    @property
    def searching(self):
        return not self.finished and not self.stopped

    @property
    def served(self):
        return bool(self.answers) and self.answers[0].served


def layout_sheet(plan, *, unit):
    """Return the LayoutSheet of a plan."""
    asked = asked_from_json(plan.asked)
    result = plan.answer or {"finished": False, "stopped": False, "scored": 0}
    resting = result["finished"] or result["stopped"]
    search, state, answers = answers_of(plan) if resting else (None, None, ())
    sheets = tuple(answer_sheet(asked, answer, n, unit) for n, answer in enumerate(answers, 1))
    return LayoutSheet(
        asked=asked,
        started=bool(plan.answer),
        finished=result["finished"],
        stopped=result["stopped"],
        done_percent=round(100 * share_done(plan)),
        scored=result["scored"],
        answers=sheets,
        fixes=fixes_told(search, state, answers, unit) if sheets else (),
        rule=rule_told(search, answers[0], asked) if sheets else None,
    )


def answer_sheet(asked, answer, number, unit):
    question, layout = asked.question, answer.layout
    fixtures, outputs = layout.fixtures(question)
    above, front = draw_hung(question.tank, fixtures, partial(format_length, unit=unit))
    kinds = [(layout.choice.count, layout.choice.main, layout.choice.beam_deg)]
    if layout.choice.fill is not None:
        kinds.append((layout.choice.fill_count, layout.choice.fill, layout.choice.fill_beam_deg))
    zones = zone_facts(question, fixtures, outputs)
    watts = answer.score.watts
    kwh = None if watts is None else watts * asked.day_hours * DAYS_A_YEAR / 1000.0
    return AnswerSheet(
        number=number,
        answer=answer,
        best_words=tuple(BEST_WORDS[name] for name in answer.best_at),
        zones=zones,
        shadows=tuple(shadow_rows(zones, facts_without_fill(asked, answer))),
        rows=tuple(
            HungRow(n, f.name.rsplit(" ", 1)[0], f, 100 * f.level)
            for n, f in enumerate(fixtures, start=1)
        ),
        above=above,
        front=front,
        kinds=tuple((count, question.candidates[k].name, beam) for count, k, beam in kinds),
        outputs=tuple(
            (question.candidates[k].name, question.candidates[k].output) for _, k, _ in kinds
        ),
        spill_percent=100 * answer.score.light_lost,
        watts=watts,
        kwh_year=kwh,
        cost_year=None if None in (kwh, asked.price_kwh) else kwh * asked.price_kwh,
        price=price_of(question, layout.choice),
        wide_output=any(o.high_umol_s / o.low_umol_s > 2 for o in outputs),
    )


def shadow_rows(zones, bare):
    """Yield the ShadowRow of each of the ZoneFacts; `bare` are those without the fill, or ()."""
    for number, result in enumerate(zones):
        before = bare[number] if bare else None
        yield ShadowRow(
            zone_name=result.zone.name,
            from_one_percent=result.from_one_percent,
            shadow_percent=result.shadow_percent,
            from_one_before=before and before.from_one_percent,
            shadow_before=before and before.shadow_percent,
        )


def facts_without_fill(asked, answer):
    """Return the ZoneFacts an answer would have without its tubes or bars, () if it has none."""
    choice = answer.layout.choice
    if choice.fill is None:
        return ()
    fixtures, outputs = answer.layout.fixtures(asked.question)
    return zone_facts(asked.question, fixtures[: choice.count], outputs[: choice.count])


def zone_facts(question, fixtures, outputs):
    """Return the ZoneFacts of fixtures over a question's zones, from the cache when known."""
    text = repr((
        FACTS_VERSION, question.tank, question.rocks, question.law, question.zones, fixtures,
        outputs,
    ))  # fmt: skip
    key = "layout-facts-" + hashlib.sha256(text.encode()).hexdigest()

    def facts():
        field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
        return tuple(facts_of(field, zone, question.rocks) for zone in question.zones)

    return kept(key, facts)


def facts_of(field, zone, rocks):
    points = zone.points(rocks, finer=2)
    light = field.at(points)
    par, low, high = light.par_umol, light.low_umol, light.high_umol
    some = points[:: max(len(points) // SHADOW_POINTS, 1)]
    rig = field.rig_fit

    def percent(mask):
        return 100.0 * float(np.mean(mask))

    return ZoneFacts(
        zone=zone,
        in_band_percent=percent((par >= zone.low_umol) & (par <= zone.high_umol)),
        dim_percent=percent(par < zone.low_umol),
        bright_percent=percent(par > zone.high_umol),
        surely_percent=percent((low >= zone.low_umol) & (high <= zone.high_umol)),
        perhaps_percent=percent((high >= zone.low_umol) & (low <= zone.high_umol)),
        mean_umol=float(par.mean()),
        low_umol=float(low.mean()),
        high_umol=float(high.mean()),
        least_umol=float(par.min()),
        most_umol=float(par.max()),
        evenness=float(par.min() / par.mean()),
        from_one_percent=100.0 * float(field.directness(some).mean()),
        shadow_percent=100.0 * float(branch_shadow(rig.rig, rig.theta, some).mean()),
    )


def fixes_told(search, state, answers, unit):
    """Return the remedies that bring the zones clearly nearer, best first."""
    weight = search.scorer.weight
    best = state.best()
    before = search.scorer.score(best.layout).zone_shares

    def length(value_cm):
        return f"{format_length(value_cm, unit)} {unit}"

    told = [
        FixTold(
            fix_words(fix.name, best.layout, length),
            100 * float(weight @ before),
            100 * float(weight @ fix.zone_shares),
            min(fix.zone_shares) >= SERVED,
        )
        for fix in state.fixes
        if weight @ fix.zone_shares >= weight @ before + WORTH_TELLING
    ]
    return tuple(sorted(told, key=lambda fix: (-fix.serves, -fix.after_percent)))


def rule_told(search, answer, asked):
    """Return the RuleTold for the fixture of an answer."""
    rule = rule_of_thumb(search.scorer, answer.layout.choice)
    factors = (
        ("output of one fixture at full level, against a mid-power one", rule.output),
        ("a patch of water for the rule's own 2 × 2 ft", rule.footprint),
        ("light that falls into the water rather than past the rim", rule.rim),
        ("depth of the zone, optic, panes and rock", rule.rest),
    )
    return RuleTold(
        rule=rule,
        zone_name=asked.question.zones[rule.zone].name,
        count=rule.layout.choice.count,
        name=asked.question.candidates[answer.layout.choice.main].name,
        in_band_percent=100 * rule.zone_shares[rule.zone],
        factors=tuple((words, percent_words(factor)) for words, factor in factors),
    )
