"""The layout search: what it finds, what it keeps to, and common practice."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.ground.measured_optic import ANGLES_DEG, TURNS_DEG, measured_optic
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.layout.answers import ROOM, SOFT, answers
from apps.photics.layout.choice import Choice, Part, fills_of, one_kind
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.light.light_lost import light_lost
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.score import NOTHING, SERVED, Scorer
from apps.photics.layout.search import Search, State, refine, screen
from apps.photics.layout.shortlist import choices
from apps.photics.layout.softness import hardness, softened
from apps.photics.layout.zone_light import zone_lights
from apps.photics.rig.optic_fit import model_shape
from apps.photics.rig.tank_optics import TankLaw
from tests.photics.layouts import FOOT_CM, ask, hung, panel, tube, zone

CUBE = (2 * FOOT_CM,) * 3
LPS, SPS = (75.0, 150.0), (200.0, 350.0)


def best_share(question, count):
    """Return the best share in band that a count of fixtures reaches."""
    scorer = Scorer(question)
    found = [
        refine(scorer, screen(scorer, choice)[0])
        for choice in choices(question)
        if choice.count == count
    ]
    best = max(found, key=lambda f: f.value)
    return min(scorer.score(best.layout).zone_shares), best.layout


@pytest.mark.parametrize("rocks", [(), (Rock(20, 15, 15, 20, 15, 25),)])
def test_the_search_scores_what_the_light_field_shows(rocks):
    question = ask((60, 45, 40), SPS, candidates=(panel(90.0),), count=2)
    question = replace(question, rocks=rocks)
    scorer = Scorer(question)
    layout = hung(90.0, ((15.0, 20.0), (42.5, 30.0)), 22.0, level=0.7)
    (light,), _ = scorer.light_by_kind(layout)
    field = planned_field(question.tank, *layout.fixtures(question), rocks)
    # Single precision in the search, double in the field, whose bottom is lit by a usual optic.
    assert 0.7 * light == pytest.approx(field.at(scorer.points).par_umol, rel=2e-3)


def test_the_search_and_the_field_follow_the_same_law_of_the_tank():
    murky = TankLaw((np.log(0.01), np.log(0.5), np.log(0.4)), (0.2, 0.1, 0.3))
    question = replace(ask((60, 45, 40), SPS, candidates=(panel(90.0),)), law=murky)
    scorer, layout = Scorer(question), hung(90.0, ((30.0, 22.0),), 22.0)
    field = planned_field(question.tank, *layout.fixtures(question), law=murky)
    usual = planned_field(question.tank, *layout.fixtures(question))
    par = field.at(scorer.points).par_umol
    # The field lights the bottom by a usual K.
    assert scorer.light_by_kind(layout)[0][0] == pytest.approx(par, rel=0.03)
    assert par.mean() < 0.95 * usual.at(scorer.points).par_umol.mean()


def test_light_mirrored_in_the_memory_is_the_light_worked_out():
    question = ask((60, 45, 40), SPS)
    place = (47.0, 33.5, 20.0, 110.0)
    plain = Scorer(question)
    plain.mirrors = (None, None)
    assert Scorer(question).light(0, [place]) == pytest.approx(plain.light(0, [place]), rel=1e-4)


def test_a_dark_back_pane_is_no_mirror():
    question = ask((60, 45, 40), SPS)
    dark = replace(question, tank=replace(question.tank, back_pane="dark"))
    assert Scorer(dark).mirrors[1] is None and Scorer(dark).mirrors[0] is not None


@pytest.mark.parametrize(("side", "mirrored"), [(0, (False, True)), (90, (True, False))])
def test_a_measured_optic_is_mirrored_only_where_its_sides_are_alike(side, mirrored):
    optic = measured_optic(one_sided(90.0, side), model_shape(90.0, ANGLES_DEG))
    lamp = panel(90.0, optic=optic, optic_beam_deg=90.0)
    question = ask((60, 45, 40), SPS, candidates=(lamp,), count=2)
    scorer = Scorer(question)
    assert tuple(order is not None for order in scorer.mirrors) == mirrored
    layout = hung(90.0, ((15.0, 20.0), (42.5, 30.0)), 22.0)
    field = planned_field(question.tank, *layout.fixtures(question))
    assert scorer.light_by_kind(layout)[0][0] == pytest.approx(
        field.at(scorer.points).par_umol, rel=1e-3
    )
    plain = Scorer(replace(question, candidates=(panel(90.0),)))
    assert (
        np.abs(scorer.light_by_kind(layout)[0][0] / plain.light_by_kind(layout)[0][0] - 1.0).max()
        > 0.1
    )


def one_sided(beam_deg, side_deg):
    """Return a beam's lobe with more light to one side, (angles, turns)."""
    turned = np.cos(np.radians(TURNS_DEG - side_deg)) * np.sin(np.radians(ANGLES_DEG))[:, None]
    return model_shape(beam_deg, ANGLES_DEG)[:, None] * (1.0 + 0.6 * turned)


def test_light_beyond_the_rim_is_counted_by_the_measured_optic():
    """A ring at 60 to 70 degrees, 20 cm over a water 40 cm wide: nearly all of it falls beside."""
    ring = ((ANGLES_DEG >= 60) & (ANGLES_DEG <= 70)).astype(float)[:, None] + 0 * TURNS_DEG
    optic = measured_optic(ring, model_shape(120.0, ANGLES_DEG))
    lamp = Fixture(20, 20, 20, 120, 2, 2)
    tank = Tank(40, 40, 40)
    assert light_lost(replace(lamp, optic=optic), tank) > 0.97
    assert light_lost(lamp, tank) < 0.5


def test_the_same_question_gets_the_same_answer():
    question = ask((45, 45, 40), SPS, candidates=(panel(110.0, 55.0),), count=2)
    assert Search(question).run() == Search(question).run()


def test_a_search_taken_up_again_ends_where_an_unbroken_one_does():
    question = ask((45, 45, 40), SPS, candidates=(panel(110.0, 55.0),), count=2)
    whole = Search(question).run()
    state = State()
    while not Search(question).finished(state):
        state = Search(question).advance(state)
    assert (state.refined, state.fixes) == (whole.refined, whole.fixes)


def test_a_stopped_search_keeps_the_best_so_far():
    search = Search(ask((45, 45, 40), SPS, candidates=(panel(110.0, 55.0),), count=3))
    looks = iter([False, False, True])
    state = search.run(stop=lambda _: next(looks))
    assert state.step == 2 and state.best().value > 0


def test_progress_grows_to_the_end():
    told = []
    Search(ask((45, 45, 40), LPS)).run(progress=told.append)
    assert told == sorted(told) and told[0] > 0 and told[-1] <= 1


def test_all_answers_hang_where_hanging_is_allowed():
    question = ask((90, 45, 45), SPS, count=2, heights=(18.0, 24.0))
    question = replace(question, limits=replace(question.limits, x_cm=(20.0, 50.0)))
    search = Search(question)
    found = answers(search.scorer, search.run().refined)
    places = [place for answer in found for place in answer.layout.places_cm]
    assert all(20 <= x <= 50 for x, _ in places)
    assert all(18 <= answer.layout.height_cm <= 24 for answer in found)


def test_fixtures_that_lie_on_each_other_are_refused():
    scorer = Scorer(ask((60, 45, 40), SPS, count=2))
    layout = hung(110.0, ((20.0, 20.0), (35.0, 20.0)), 20.0)
    assert scorer.best_level(layout)[1] == NOTHING


@pytest.mark.parametrize(
    ("limits", "most"),
    [({"watts": 120.0}, 2), ({"budget": 250.0}, 3), ({}, 4)],
)
def test_budget_and_watts_bound_the_count(limits, most):
    # Two of them are there already: 250 buys one more of 200, not two.
    question = ask((90, 45, 45), SPS, candidates=(panel(price=200.0, owned=2),), count=4, **limits)
    assert max(choice.count for choice in choices(question)) == most


def test_no_answer_is_beaten_by_another_in_everything():
    search = Search(ask((90, 45, 45), SPS, candidates=(panel(110.0, 55.0),), count=3))
    found = answers(search.scorer, search.run().refined)
    for one in found:
        for other in found:
            assert one is other or not (
                other.score.objective > one.score.objective + 0.02
                and other.score.evenness > one.score.evenness + 0.02
                and other.score.light_lost < one.score.light_lost - 0.02
                and other.layout.choice.count < one.layout.choice.count
                and search.scorer.power(other.layout) < search.scorer.power(one.layout)
            )


@pytest.mark.parametrize(("most", "roomy"), [(0.9, False), (0.95, True)])
def test_room_to_grow_is_told_of_levels_that_leave_some(monkeypatch, most, roomy):
    # Three weak panels: the answer with most room burns at 93 %.
    weak = panel(110.0, price=100.0, ppf_umol_s=40.0)
    narrow = panel(60.0, price=80.0, ppf_umol_s=36.0)
    search = Search(ask((60, 45, 40), SPS, candidates=(weak, narrow), count=3))
    monkeypatch.setattr("apps.photics.layout.answers.ROOMY", most)
    found = answers(search.scorer, search.run(stop=search.has_refined).refined)
    assert any(ROOM in answer.best_at for answer in found) == roomy


def test_a_mixed_rig_is_among_the_answers_when_asked_for():
    question = ask((60, 45, 40), SPS, candidates=(panel(90.0), tube()), count=2, fill_count=1)
    search = Search(question)
    found = answers(search.scorer, search.run().refined)
    assert any(SOFT in answer.best_at for answer in found)


MIXED = ask((60, 45, 40), SPS, candidates=(panel(90.0), tube()), count=2, fill_count=1)


def test_the_softest_answer_has_the_least_shadow():
    search = Search(MIXED)
    found = answers(search.scorer, search.run().refined)
    softest = min(found, key=lambda answer: hardness(MIXED, answer.layout))
    assert SOFT in softest.best_at and fills_of(MIXED, softest.layout.choice)


def test_a_mixed_rig_is_kept_with_more_of_its_fill_where_that_softens():
    scorer = Scorer(MIXED)
    choice = Choice((Part(0, 90.0, 2), Part(1, 120.0, 1)))
    hard = screen(scorer, choice)[0].layout
    hard = hard.at_levels([0.5, 0.05])
    softer, value = softened(scorer, hard)
    assert hardness(MIXED, softer) < hardness(MIXED, hard) - 0.02
    assert value == pytest.approx(scorer.score(softer).objective)


def test_points_alone_have_nothing_to_soften():
    scorer = Scorer(MIXED)
    assert softened(scorer, screen(scorer, one_kind(0, 90.0, 2))[0].layout) is None


def test_remedies_are_tried_when_the_band_is_out_of_reach():
    state = Search(ask(CUBE, SPS)).run()
    better = {fix.name: min(fix.zone_shares) for fix in state.fixes}
    # One weak panel is too little: a second one serves, pulling the beam together does not.
    assert better["fixture"] >= SERVED > better["narrower"]


def test_what_cannot_serve_is_turned_up_all_the_same():
    search = Search(ask((120, 60, 60), SPS, candidates=(panel(ppf_umol_s=8.0),), count=2))
    best = search.run(stop=search.has_refined).best()
    assert best.layout.levels == (1.0,)


def test_no_remedy_is_tried_when_the_zones_are_served():
    assert Search(ask(CUBE, LPS)).run().fixes == ()


def test_more_weight_on_a_zone_gives_it_more_light_in_band():
    size = (60, 45, 60)
    tank = Tank(*size)
    top = zone(tank, 200, 350, depth=(0.15, 0.4))
    foot = zone(tank, 40, 80, depth=(0.8, 0.95))
    shares = []
    for weight in (0.2, 5.0):
        question = ask(size, top, replace(foot, weight=weight), count=2)
        search = Search(question)
        shares.append(search.scorer.score(search.run().best().layout).zone_shares[1])
    assert shares[1] > shares[0]


# Common practice, no published source: one mid-power fixture for each 2 x 2 x 2 ft for 75-150,
# two for SPS, four over 4 x 2 x 2 ft, one with a narrow optic over an 18 in cube.


def test_one_mid_power_fixture_serves_lps_in_a_two_foot_cube():
    assert best_share(ask(CUBE, LPS), 1)[0] >= SERVED


def test_sps_in_a_two_foot_cube_need_two():
    one, two = (ask(CUBE, SPS, candidates=(panel(110.0, 55.0),), count=n) for n in (1, 2))
    assert best_share(one, 1)[0] < SERVED <= best_share(two, 2)[0]


def test_sps_over_four_by_two_feet_need_four():
    size = (4 * FOOT_CM, 2 * FOOT_CM, 2 * FOOT_CM)
    three, four = (ask(size, SPS, candidates=(panel(110.0, 55.0),), count=n) for n in (3, 4))
    assert best_share(three, 3)[0] < SERVED <= best_share(four, 4)[0]


def test_an_18_inch_cube_reaches_sps_with_one_and_a_narrow_optic():
    share, layout = best_share(ask((45.72,) * 3, SPS, candidates=(panel(110.0, 55.0),)), 1)
    assert share >= SERVED and layout.choice.beam_deg == 55.0


def test_13_inches_with_55_degrees_spread_like_8_inches_wide_with_a_brighter_centre():
    # A wide pool, so that panes play no part; half the centre's light, 25 cm down.
    pool = Tank(300, 300, 60)
    across = np.linspace(150, 230, 161)
    points = np.column_stack([across, np.full(161, 150.0), np.full(161, 25.0)])
    centre, spread = [], []
    for beam, height in ((90.0, 8 * 2.54), (55.0, 13 * 2.54)):
        fixture = Fixture(150, 150, height, beam, 20, 20)
        par = planned_field(pool, [fixture], [panel().output]).at(points).par_umol
        centre.append(par[0])
        spread.append(across[np.argmax(par < par[0] / 2)] - 150)
    assert centre[1] > centre[0]
    assert spread[1] == pytest.approx(spread[0], rel=0.25)


def test_one_mid_power_fixture_gives_a_two_foot_cube_75_to_150():
    question = ask(CUBE, LPS)
    middle = question.tank.length_cm / 2
    layout = Layout((HungKind(0, 110.0, ((middle, middle),), 20.0),))
    (light,) = zone_lights(question, *layout.fixtures(question))
    assert 75 <= light.mean_umol <= 150
