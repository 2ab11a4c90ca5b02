"""Kinds mixed, tubes beside them, fixtures that stay: which are tried, and where they hang."""

from dataclasses import replace

import pytest

from apps.photics.ground.scene import Tank
from apps.photics.layout.choice import Part, kept_parts, price_of
from apps.photics.layout.fitting import fitted
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.question import Candidate
from apps.photics.layout.score import SERVED, Scorer
from apps.photics.layout.search import Rated, Search, thinned
from apps.photics.layout.shortlist import ALWAYS, SINGLES_MOST, choices
from apps.photics.rig.fixture_light import output_estimate
from tests.photics.layouts import ask, panel, tube

SPS = (200.0, 400.0)


def kind(name, ppf_umol_s, **overrides):
    fields = {"panel_x_cm": 20.0, "panel_y_cm": 20.0, "beams_deg": (110.0,)} | overrides
    return Candidate(name, "panel", output=output_estimate(ppf_umol_s=ppf_umol_s), **fields)


WEAK, STRONG = kind("Weak", 60, price=250.0), kind("Strong", 160, price=550.0)
STAYING = kind("Old", 100, kept_at_cm=((30.0, 30.0),), kept_height_cm=20.0)


def kinds_of(choice):
    return {part.candidate for part in choice.parts}


def test_two_kinds_are_tried_together():
    tried = choices(ask((120, 60, 60), SPS, candidates=(WEAK, STRONG), count=4))
    assert {0, 1} in [kinds_of(choice) for choice in tried]


def test_three_kinds_are_tried_together():
    third = kind("Third", 90, price=350.0)
    tried = choices(ask((180, 60, 60), SPS, candidates=(WEAK, STRONG, third), count=5))
    assert {0, 1, 2} in [kinds_of(choice) for choice in tried]


def test_no_mix_has_more_fixtures_than_may_hang():
    tried = choices(ask((120, 60, 60), SPS, candidates=(WEAK, STRONG), count=3))
    assert max(choice.count for choice in tried) <= 3


def test_the_cheapest_mixes_come_first():
    question = ask((120, 60, 60), SPS, candidates=(WEAK, STRONG), count=5)
    mixes = [choice for choice in choices(question) if len(choice.parts) > 1]
    prices = [price_of(question, choice) for choice in mixes]
    assert prices == sorted(prices)


def test_far_too_many_of_a_kind_are_not_tried():
    # Three strong panels are about enough: eight would burn at a fraction.
    question = ask((120, 60, 60), SPS, candidates=(STRONG,), count=12)
    assert ALWAYS <= max(choice.count for choice in choices(question)) <= 7


def test_of_far_too_many_choices_each_kind_keeps_some():
    many = [replace(WEAK, name=f"Kind {k}", beams_deg=(110.0, 90.0, 70.0, 50.0)) for k in range(12)]
    tried = choices(ask((180, 60, 60), SPS, candidates=tuple(many), count=12))
    single = [choice for choice in tried if len(choice.parts) == 1]
    assert len(single) == SINGLES_MOST
    assert {(choice.main, choice.beam_deg) for choice in single} == {
        (k, beam) for k in range(12) for beam in (110.0, 90.0, 70.0, 50.0)
    }


@pytest.mark.parametrize(
    ("sides", "turned"), [((20, 60), 90.0), ((60, 20), 0.0), ((20, 40), 0.0), ((95, 60), 0.0)]
)
def test_what_fits_over_the_tank_only_turned_is_turned(sides, turned):
    bar = replace(WEAK, panel_x_cm=float(sides[0]), panel_y_cm=float(sides[1]))
    assert bar.lying_over(Tank(90, 45, 50)).turn_deg == turned


def test_a_turned_fixture_lights_as_one_with_its_sides_swapped():
    turned = replace(WEAK, panel_x_cm=10.0, panel_y_cm=40.0, turn_deg=90.0)
    swapped = replace(WEAK, panel_x_cm=40.0, panel_y_cm=10.0)
    at = (60.0, 20.0, 20.0, 110.0)
    lights = [Scorer(ask((90, 45, 45), SPS, candidates=(one,))).light(0, [at])
              for one in (turned, swapped)]  # fmt: skip
    assert lights[0] == pytest.approx(lights[1], rel=1e-3)
    assert turned.sides_cm == pytest.approx(swapped.sides_cm)


def test_what_stays_hangs_in_every_choice_and_costs_nothing():
    question = ask((120, 60, 60), SPS, candidates=(STAYING, WEAK), count=3)
    tried = choices(question)
    assert all(choice.parts[-1] == Part(0, 110.0, 1) for choice in tried)
    assert price_of(question, tried[0]) == 0 and tried[0].parts == kept_parts(question)
    assert max(choice.count for choice in tried) == 3


def test_what_stays_is_never_moved():
    question = ask((120, 60, 60), SPS, candidates=(STAYING, WEAK), count=4)
    search = Search(question)
    for rated in search.run(stop=search.has_refined).refined:
        staying = [one for one in rated.layout.hung if one.candidate == 0]
        assert [(one.places_cm, one.height_cm) for one in staying] == [(((30.0, 30.0),), 20.0)]


def test_what_stays_may_hang_higher_than_the_limits_and_be_turned():
    high = replace(STAYING, kept_height_cm=60.0, turn_deg=30.0, tilt_deg=10.0)
    question = ask((120, 60, 60), SPS, candidates=(high, WEAK), count=4)
    scorer = Scorer(question)
    layout = Layout((HungKind(0, 110.0, high.kept_at_cm, 60.0),))
    assert scorer.fits(layout)
    (fixture,), _ = layout.fixtures(question)
    assert (fixture.turn_deg, fixture.tilt_deg) == (30.0, 10.0)


def beside(tube_y_cm, panel_y_cm=22.5):
    """Return a Scorer and a Layout of one panel and a row of tubes over a tank 45 cm wide."""
    tubes = replace(tube(85.0), panel_y_cm=12.0)
    question = ask((90, 45, 45), SPS, candidates=(WEAK, tubes), count=1, fill_count=1)
    hung = (HungKind(0, 110.0, ((45.0, panel_y_cm),), 20.0),
            HungKind(1, 120.0, ((45.0, tube_y_cm),), 20.0))  # fmt: skip
    return Scorer(question), Layout(hung)


def test_tubes_that_reach_a_little_under_a_panel_move_aside():
    # From 12.5 cm on lies the panel, and the tubes end at 12.75.
    scorer, layout = beside(6.75)
    assert not scorer.fits(layout)
    moved = fitted(scorer, layout)
    assert scorer.fits(moved)
    assert moved.hung[0] == layout.hung[0] and moved.hung[1].places_cm == ((45.0, 6.5),)


def test_a_panel_gives_way_where_tubes_can_not():
    scorer, layout = beside(6.75, panel_y_cm=11.0)
    moved = fitted(scorer, layout)
    assert scorer.fits(moved)


def test_what_has_no_place_beside_others_is_not_hung():
    broad = replace(tube(85.0), panel_y_cm=40.0)
    question = ask((90, 45, 45), SPS, candidates=(WEAK, broad), count=1, fill_count=1)
    layout = Layout((HungKind(0, 110.0, ((45.0, 22.5),), 20.0),
                     HungKind(1, 120.0, ((45.0, 22.5),), 20.0)))  # fmt: skip
    limits = replace(question.limits, canopy=True)
    assert fitted(Scorer(replace(question, limits=limits)), layout) is None


def test_a_layout_that_fits_stays_as_it_is():
    scorer, layout = beside(4.0)
    assert fitted(scorer, layout) == layout


def test_what_is_not_needed_is_not_bought():
    question = ask((60, 60, 60), (75, 200), candidates=(STRONG,), count=3)
    scorer = Scorer(question)
    three = Layout((HungKind(0, 110.0, ((20.0, 30.0), (40.0, 15.0), (40.0, 45.0)), 20.0),))
    (fewer,) = thinned(scorer, Rated(*scorer.best_level(three)))
    assert len(fewer.layout.places_cm) == 1
    assert min(scorer.score(fewer.layout).zone_shares) >= SERVED


def test_what_is_at_hand_is_left_hanging():
    question = ask((60, 60, 60), (75, 200), candidates=(replace(STRONG, owned=3),), count=3)
    scorer = Scorer(question)
    three = Layout((HungKind(0, 110.0, ((20.0, 30.0), (40.0, 15.0), (40.0, 45.0)), 20.0),))
    assert thinned(scorer, Rated(*scorer.best_level(three))) == []


def test_each_kind_has_a_level_of_its_own():
    question = ask((60, 60, 60), SPS, candidates=(panel(), STRONG), count=2)
    scorer = Scorer(question)
    layout = Layout((HungKind(0, 110.0, ((18.0, 30.0),), 15.0),
                     HungKind(1, 110.0, ((42.0, 30.0),), 15.0)))  # fmt: skip
    best, value = scorer.best_level(layout)
    alike = max(scorer.score(layout.at_levels((level, level))).objective
                for level in (0.3, 0.5, 0.7, 0.9, 1.0))  # fmt: skip
    assert value > alike and best.levels[0] > best.levels[1]
    assert value == pytest.approx(scorer.score(best).objective)
