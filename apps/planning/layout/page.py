"""Everything the pages of a layout plan print, from its stored question and answer."""

import hashlib
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from functools import partial

import numpy as np

from apps.common.kept import kept
from apps.common.units import format_length
from apps.drawing.hung import HungDrawing, draw_hung
from apps.photics.ground.scene import Fixture
from apps.photics.layout.answers import Answer
from apps.photics.layout.choice import fills_of, missing_of
from apps.photics.layout.hanging import Layout
from apps.photics.layout.question import Question
from apps.photics.layout.score import SERVED
from apps.photics.layout.search import Search, State
from apps.photics.layout.zone_light import ZoneLight, zone_lights
from apps.photics.rig.efficacy import EFFICACIES
from apps.photics.rig.fixture_light import OutputEstimate
from apps.planning.layout.buying import left_out_words
from apps.planning.layout.costs import Costs, costs_of
from apps.planning.layout.fixtures.library import Library, library_of
from apps.planning.layout.light_picture import LightPicture, light_picture
from apps.planning.layout.quick_estimate import QuickEstimate, quick_estimate
from apps.planning.layout.searching import searched_plan
from apps.planning.layout.words import (
    BEST_WORDS,
    WORTH_TELLING,
    fix_words,
    length_words,
)
from apps.planning.layout.zones.zone_cover import Cover, cover_of
from apps.planning.models import Plan
from apps.planning.stored_layout import StoredQuestion

# Raised whenever the light of the same layout comes out otherwise, so that what was kept of it is
# not shown.
LIGHT_VERSION = 3
# An output that may be this many times as high as low is a wide guess [1]: chosen, because what is
# known of watts alone is.
WIDE_RATIO = 2


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
    """One fixture of an answer as the table of what hangs where has it."""

    number: int
    name: str
    fixture: Fixture
    level_percent: float


@dataclass(frozen=True)
class AnswerPage:
    """One answer as a page prints it."""

    number: int
    answer: Answer
    best_words: tuple[str, ...]
    zones: tuple[ZoneLight, ...]
    shadows: tuple[ShadowRow, ...]
    rows: tuple[HungRow, ...]
    above: HungDrawing
    front: HungDrawing
    kinds: tuple[tuple[int, str, float], ...]  # how many, of what, optic
    outputs: tuple[tuple[str, OutputEstimate], ...]  # of what, taken for what
    light_lost_percent: float
    costs: Costs
    wide_output: bool
    picture: LightPicture
    estimate: QuickEstimate
    kept_count: int  # fixtures at hand that it uses

    @property
    def lamps(self) -> tuple[tuple[int, str, float], ...]:
        """Return how many, of what, optic: those that stay with those that come, if alike."""
        counts: dict[tuple[str, float], int] = {}
        for count, name, beam in self.kinds:
            counts[name, beam] = counts.get((name, beam), 0) + count
        return tuple((count, name, beam) for (name, beam), count in counts.items())

    @property
    def has_fill(self) -> bool:
        """Return whether tubes or bars hang beside other fixtures."""
        return any(shadow.shadow_before is not None for shadow in self.shadows)

    @property
    def served(self) -> bool:
        """Return whether it serves every zone."""
        return all(zone.served for zone in self.zones)


@dataclass(frozen=True)
class TriedFix:
    """A remedy in words, and the share of all zones in band without and with it [%]."""

    words: str
    before_percent: float
    after_percent: float
    serves: bool


@dataclass(frozen=True)
class LayoutPage:
    """A layout plan: its question, how far the search is, its answers."""

    stored: StoredQuestion
    library: Library
    finished: bool
    stopped: bool
    broke: bool
    done_percent: int
    scored: int
    answers: tuple[AnswerPage, ...]
    fixes: tuple[TriedFix, ...]
    cover: Cover
    # Fixtures that hang in no answer, and why not.
    left_out: tuple[tuple[str, str], ...]

    @property
    def efficacies(self) -> list[dict[str, object]]:
        """Return the intervals that watts alone leave open, those that are computed with."""
        words = {"led": "LEDs", "tube": "tubes"}
        return [{"words": name, **asdict(EFFICACIES[kind])} for kind, name in words.items()]

    @property
    def measured_outputs(self) -> tuple[tuple[str, OutputEstimate], ...]:
        """Return the outputs that readings measured of the fixtures to choose from, by name."""
        measured = (one for one in self.stored.question.candidates if one.output.measured)
        return tuple(dict.fromkeys((one.name, one.output) for one in measured))

    @property
    def law(self) -> dict[str, float]:
        """Return K [1/m], and the shares [%] that a pane mirrors and the bottom returns."""
        k, pane, bottom = np.exp(self.stored.question.law.means)
        return {"k_per_m": 100 * k, "pane_percent": 100 * pane, "bottom_percent": 100 * bottom}

    def with_answer(self, answer: AnswerPage) -> "LayoutPage":
        """Return the page with another answer of the same number."""
        answers = tuple(answer if one.number == answer.number else one for one in self.answers)
        return replace(self, answers=answers)

    @property
    def searching(self) -> bool:
        """Return whether the search goes on."""
        return not self.finished and not self.stopped

    @property
    def served(self) -> bool:
        """Return whether the best answer serves every zone."""
        return bool(self.answers) and self.answers[0].served


def layout_page(plan: Plan, *, unit: str) -> LayoutPage:
    """Return the LayoutPage of a plan, lengths in `unit`."""
    searched = searched_plan(plan)
    stored = searched.stored
    answers = searched.answers if searched.rests else ()
    return LayoutPage(
        stored=stored,
        library=library_of(plan, stored.sources),
        finished=searched.finished,
        stopped=searched.stopped,
        broke=searched.broke,
        done_percent=round(100 * searched.share_done),
        scored=searched.state.scored,
        answers=tuple(
            answer_page(stored, answer, number, unit) for number, answer in enumerate(answers, 1)
        ),
        fixes=tried_fixes(searched.search, searched.state, unit) if answers else (),
        cover=cover_of(stored.question.tank, stored.question.zones),
        left_out=tuple(left_out_words(searched, answers, length_words(unit))) if answers else (),
    )


def answer_page(stored: StoredQuestion, answer: Answer, number: int, unit: str) -> AnswerPage:
    """Return the AnswerPage of one answer, by its number from 1 on, lengths in `unit`."""
    question, layout = stored.question, answer.layout
    fixtures, outputs = layout.fixtures(question)
    above, front = draw_hung(question.tank, fixtures, partial(format_length, unit=unit))
    zones = kept_zone_lights(question, fixtures, outputs)
    brightest = max(question.zones, key=lambda zone: zone.low_umol)
    kinds = [(question.candidates[part.candidate], part.beam_deg, part.count)
             for part in layout.choice.parts]  # fmt: skip
    return AnswerPage(
        number=number,
        answer=answer,
        best_words=tuple(BEST_WORDS[name] for name in answer.best_at),
        zones=zones,
        shadows=tuple(shadow_rows(zones, lights_without_fill(question, answer))),
        rows=tuple(
            HungRow(n, f.name.rsplit(" ", 1)[0], f, 100 * f.level)
            for n, f in enumerate(fixtures, start=1)
        ),
        above=above,
        front=front,
        kinds=tuple((count, candidate.name, beam) for candidate, beam, count in kinds),
        outputs=tuple(dict.fromkeys((one.name, one.output) for one, _, _ in kinds)),
        light_lost_percent=100 * answer.score.light_lost,
        costs=costs_of(stored, layout, answer.score.watts),
        picture=light_picture(question, fixtures, outputs, brightest),
        estimate=quick_estimate(question, layout, zones),
        kept_count=sum(
            part.count - missing_of(question.candidates[part.candidate], part.count)
            for part in layout.choice.parts
        ),
        wide_output=any(o.high_umol_s / o.low_umol_s > WIDE_RATIO for o in outputs),
    )


def shadow_rows(
    zones: tuple[ZoneLight, ...], without_fill: tuple[ZoneLight, ...]
) -> Iterator[ShadowRow]:
    """Yield the ShadowRow of each zone; `without_fill` its light without the fill, or ()."""
    for number, zone in enumerate(zones):
        before = without_fill[number] if without_fill else None
        yield ShadowRow(
            zone_name=zone.zone.name,
            from_one_percent=zone.from_one_percent,
            shadow_percent=zone.shadow_percent,
            from_one_before=None if before is None else before.from_one_percent,
            shadow_before=None if before is None else before.shadow_percent,
        )


def lights_without_fill(question: Question, answer: Answer) -> tuple[ZoneLight, ...]:
    """Return the zones' light without an answer's tubes or bars, () if it has none."""
    fills = fills_of(question, answer.layout.choice)
    if not fills:
        return ()
    hung = (kind for k, kind in enumerate(answer.layout.hung) if k not in fills)
    return kept_zone_lights(question, *Layout(tuple(hung)).fixtures(question))


def kept_zone_lights(
    question: Question, fixtures: list[Fixture], outputs: list[OutputEstimate]
) -> tuple[ZoneLight, ...]:
    """Return the `zone_lights` of fixtures over a question's zones, kept once worked out."""
    text = repr((
        LIGHT_VERSION, question.tank, question.rocks, question.law, question.zones, fixtures,
        outputs,
    ))  # fmt: skip
    key = "layout-facts-" + hashlib.sha256(text.encode()).hexdigest()
    lights: tuple[ZoneLight, ...] = kept(key, partial(zone_lights, question, fixtures, outputs))
    return lights


def tried_fixes(search: Search, state: State, unit: str) -> tuple[TriedFix, ...]:
    """Return the remedies that bring the zones clearly nearer, best first."""
    best = state.best()
    if best is None:
        return ()
    weight = search.scorer.weight
    before = float(weight @ search.scorer.score(best.layout).zone_shares)
    tried = [
        TriedFix(
            words=fix_words(fix.name, best.layout, length_words(unit)),
            before_percent=100 * before,
            after_percent=100 * float(weight @ fix.zone_shares),
            serves=min(fix.zone_shares) >= SERVED,
        )
        for fix in state.fixes
        if weight @ fix.zone_shares >= before + WORTH_TELLING
    ]
    return tuple(sorted(tried, key=lambda fix: (-fix.serves, -fix.after_percent)))
