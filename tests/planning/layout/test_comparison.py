"""Which answer is recommended and why, what each is best at, and when a chip turns green."""

from dataclasses import dataclass, field, replace
from types import SimpleNamespace

import pytest

from apps.photics.layout.advice import recommended as why
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.zone_light import ZoneLight
from apps.planning.layout.comparison import ZoneBar, best_of, by_kind
from apps.planning.layout.costs import Costs, costs_of
from apps.planning.layout.page import layout_page
from apps.planning.layout.searching import advance_search
from apps.planning.layout.words import REASON_WORDS, WEIGHT_WORDS
from apps.planning.stored_layout import read_question
from tests.planning.layout.test_words import zone_light
from tests.planning.questions import make_layout_plan


@dataclass
class Level:
    level_percent: float


@dataclass
class Short:
    """What a comparison reads of an answer."""

    number: int
    share: float
    price: float | None = None
    watts: float = 100.0
    shadow: float = 50.0
    level: float = 80.0
    kept_count: int = 0
    light_lost_percent: float = 5.0
    zones: tuple[ZoneLight, ...] = field(init=False)

    def __post_init__(self):
        lit = zone_light(in_band_percent=self.share)
        self.zones = (replace(lit, shadow_percent=self.shadow),)
        self.costs = Costs(self.watts, 1.0, 1.0, 0.0, self.price, "")
        self.rows = [Level(self.level)]

    @property
    def served(self):
        return self.share >= 80


def test_the_best_of_each_row_is_marked():
    answers = [Short(1, 95, 900, watts=80, shadow=30), Short(2, 85, 400, watts=100)]
    best = best_of(answers)
    assert (best["price"], best["watts"], best["shadow"]) == (2, 1, 1)


def test_what_all_share_is_nobodys_best():
    assert best_of([Short(1, 95, 400), Short(2, 85, 400)]) == {}


def test_every_reason_has_its_words():
    assert set(REASON_WORDS) == {
        why.ONLY, why.CHEAPEST, why.SURER, why.SUREST, why.UNPRICED, why.NEAREST,
    }  # fmt: skip


def test_the_first_weight_is_the_default():
    assert next(iter(WEIGHT_WORDS)) == why.BALANCED


@pytest.mark.parametrize(
    ("costs", "total"),
    [
        (Costs(100.0, 1.0, 60.0, 20.0, 400.0, ""), 800.0),
        (Costs(100.0, 1.0, None, 0.0, 400.0, ""), None),
        (Costs(100.0, 1.0, 60.0, 0.0, None, ""), None),
    ],
)
def test_buying_and_five_years_are_summed_where_all_is_known(costs, total):
    assert costs.total == total


def mixed(*levels):
    hung = tuple(HungKind(k, 110.0, ((30.0, 30.0),), 20.0, level) for k, level in enumerate(levels))
    kinds = tuple((1, f"Lamp {k}", 110.0) for k in range(len(levels)))
    return SimpleNamespace(kinds=kinds, answer=SimpleNamespace(layout=Layout(hung)))


def test_mixed_levels_name_their_lamp():
    def percent(kind):
        return f"{100 * kind.level:.0f} %"

    assert by_kind(mixed(0.7, 1.0), percent) == "Lamp 0 70 %, Lamp 1 100 %"
    assert by_kind(mixed(0.7, 0.7), percent) == "70 %"
    alike = mixed(0.7, 1.0)
    alike.kinds = [(2, "Lamp", 110.0), (1, "Lamp", 110.0)]
    assert by_kind(alike, percent) == "2 at 70 %, 1 at 100 %"


@pytest.mark.parametrize(
    ("surely", "likely", "state"),
    [(80.0, 90.0, "within"), (79.0, 90.0, "unknown"), (10.0, 79.0, "below")],
)
def test_a_chip_turns_green_only_on_surely(surely, likely, state):
    light = zone_light(
        surely_percent=surely, likely_percent=likely, in_band_percent=likely,
        dim_percent=100 - likely,
    )  # fmt: skip
    bar = ZoneBar(light, surely, likely, 100.0, 1.0, 1.0, 1.0, (1.0, 2.0))
    assert bar.state == state


@pytest.mark.parametrize(
    ("dli_mol", "is_soft", "is_bright"),
    [(2.1, True, True), (1.9, True, False), (2.1, False, False)],
)
def test_light_above_a_soft_edge_is_a_caution(dli_mol, is_soft, is_bright):
    light = zone_light()
    light = replace(light, zone=replace(light.zone, high_is_soft=is_soft))
    bar = ZoneBar(light, 90.0, 95.0, 100.0, dli_mol, 1.0, 3.0, (1.0, 2.0))
    assert bar.is_bright == is_bright


def test_new_tubes_count_in_a_year(owner):
    stored = read_question(make_layout_plan(owner).asked)
    panel = stored.question.candidates[0]
    tubes = replace(stored.question, candidates=(panel, replace(panel, kind="tube")))
    stored = replace(stored, question=tubes, price_kwh=0.25)
    layout = Layout((HungKind(0, 110.0, ((30, 30),), 20.0), HungKind(1, 110.0, ((30, 10),), 20.0)))
    assert costs_of(stored, layout, 100.0).cost_year is None
    priced = replace(stored, renewals=(None, 40.0))
    # 100 W for 9 h on 365 days at 0.25, and one set of tubes.
    assert costs_of(priced, layout, 100.0).cost_year == pytest.approx(0.9 * 365 * 0.25 + 40)


def test_a_lamp_that_stays_and_its_like_that_comes_are_named_as_one_kind(owner):
    plan = make_layout_plan(owner)
    page = layout_page(advance_search(plan=plan, seconds=60.0), unit="cm")
    answer = page.answers[0]
    (count, name, beam), *_ = answer.kinds
    mixed = replace(
        answer, kinds=((count, name, beam), (1, name, beam), (1, "Tube", 120.0), (1, name, 20.0))
    )
    assert mixed.lamps == ((count + 1, name, beam), (1, "Tube", 120.0), (1, name, 20.0))
