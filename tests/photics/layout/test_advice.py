"""Which answer is recommended and why, what to buy first, what was left out."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from apps.photics.layout.advice.buying_steps import buying_steps
from apps.photics.layout.advice.left_out import BESIDE, BUDGET, ROOM, WORSE, left_out
from apps.photics.layout.advice.recommended import (
    BALANCED,
    CHEAPEST,
    LEAST_MONEY,
    MOST_SURE,
    NEAREST,
    ONLY,
    SURER,
    SUREST,
    UNPRICED,
    LitAnswer,
    recommended,
)
from apps.photics.layout.answers import Answer, answers
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.score import Scorer
from apps.photics.layout.search import Search
from tests.photics.layouts import ask, panel, tube

SPS = (200.0, 400.0)
PRICED = ask((120, 60, 60), SPS, candidates=(panel(price=100.0),), count=12)
UNKNOWN = ask((120, 60, 60), SPS, candidates=(panel(),), count=12)


def lit(count, likely, surely):
    """Return an answer of so many fixtures at 100 each, with one zone's shares."""
    layout = Layout((HungKind(0, 110.0, ((30.0, 30.0),) * count, 20.0),))
    zone = SimpleNamespace(likely_percent=likely, surely_percent=surely, served=likely >= 80)
    return LitAnswer(Answer(layout, None, ()), (zone,))


@pytest.mark.parametrize(
    ("every", "chosen", "reason"),
    [
        ([lit(8, 95, 60), lit(5, 90, 58)], 1, CHEAPEST),
        ([lit(6, 98, 90), lit(5, 85, 40)], 0, SURER),
        # A quarter more at most, and only for more than five percent more sureness.
        ([lit(5, 98, 90), lit(4, 85, 40)], 0, SURER),
        ([lit(9, 98, 90), lit(7, 85, 40)], 1, CHEAPEST),
        ([lit(5, 90, 60), lit(4, 85, 55)], 1, CHEAPEST),
        ([lit(5, 91, 60), lit(4, 85, 55)], 0, SURER),
        ([lit(5, 85, 40), lit(5, 95, 70)], 1, CHEAPEST),
        ([lit(8, 95, 60), lit(2, 60, 10)], 0, ONLY),
        ([lit(8, 70, 20), lit(4, 66, 20), lit(2, 40, 0)], 1, NEAREST),
    ],
)
def test_the_cheapest_that_serves_as_well_is_recommended(every, chosen, reason):
    assert recommended(PRICED, every) == (chosen, reason)


@pytest.mark.parametrize(
    ("weigh", "chosen", "reason"),
    [(BALANCED, 1, SURER), (LEAST_MONEY, 2, CHEAPEST), (MOST_SURE, 0, SUREST)],
)
def test_the_reader_says_what_is_weighed(weigh, chosen, reason):
    every = [lit(9, 99, 99), lit(5, 95, 80), lit(4, 85, 40)]
    assert recommended(PRICED, every, weigh=weigh) == (chosen, reason)


def test_without_prices_the_surest_is_recommended():
    assert recommended(UNKNOWN, [lit(4, 90, 40), lit(6, 95, 70)]) == (1, UNPRICED)


def scored(budget=None, owned=0):
    question = ask((120, 60, 60), SPS, candidates=(panel(price=100.0, owned=owned),), count=4,
                   budget=budget)  # fmt: skip
    places = ((20.0, 30.0), (46.0, 30.0), (74.0, 30.0), (100.0, 30.0))
    return Scorer(question), Layout((HungKind(0, 110.0, places, 20.0),))


def test_steps_buy_all_that_is_missing_and_add_up():
    steps = buying_steps(*scored())
    assert sorted(step.fixture for step in steps) == [0, 1, 2, 3]
    assert [step.total for step in steps] == [100, 200, 300, 400]


def test_what_is_at_hand_is_not_bought():
    steps = buying_steps(*scored(owned=3))
    assert [step.total for step in steps] == [100]
    assert buying_steps(*scored(owned=4)) == ()


def test_steps_tell_what_the_budget_covers():
    assert [step.in_budget for step in buying_steps(*scored(budget=250))] == [True] * 2 + [
        False
    ] * 2


def test_each_step_brings_the_zone_nearer():
    shares = [step.zone_shares[0] for step in buying_steps(*scored())]
    assert shares == sorted(shares) and shares[-1] > shares[0]


def test_the_last_step_ends_at_the_layout_itself():
    scorer, layout = scored()
    dimmed = layout.at_levels(0.8 * level for level in layout.levels)
    assert buying_steps(scorer, dimmed)[-1].zone_shares == scorer.score(dimmed).zone_shares
    assert scorer.score(dimmed).zone_shares != scorer.score(layout).zone_shares


def test_a_step_of_unknown_price_has_no_total():
    scorer, layout = scored()
    question = replace(scorer.question, candidates=(panel(),))
    assert {step.total for step in buying_steps(Scorer(question), layout)} == {None}


def reasons(candidates, **limits):
    question = ask((90, 45, 45), SPS, candidates=candidates, **limits)
    search = Search(question)
    state = search.run(stop=search.has_refined)
    found = answers(search.scorer, state.refined)
    return {one.candidate: one.reason
            for one in left_out(search, [answer.layout for answer in found])}  # fmt: skip


def test_what_hangs_nowhere_is_told_with_its_limit():
    long, dear = panel(), replace(panel(price=900.0), name="Dear")
    long = replace(long, panel_x_cm=120.0, name="Long")
    out = reasons((panel(price=100.0), long, dear), count=2, budget=500.0, canopy=True)
    assert out == {1: ROOM, 2: BUDGET}


def test_tubes_that_find_no_place_beside_a_panel_are_told():
    broad = replace(tube(85.0), panel_y_cm=40.0)
    out = reasons((panel(90.0, ppf_umol_s=200.0), broad), count=1, fill_count=1, canopy=True)
    assert out == {1: BESIDE}


def test_what_was_tried_and_did_worse_is_told_so():
    weak = replace(panel(ppf_umol_s=3.0), name="Weak")
    assert reasons((panel(90.0, ppf_umol_s=200.0), weak), count=1) == {1: WORSE}
