"""Constants of judgement of the numbers, each just inside and just outside.

`HELD` lists them with the test that holds each.
"""

import importlib
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from apps.photics.causes.counts_and_ranks import EXACT_MAX, rank_correlation, rank_test
from apps.photics.causes.judgement import enough_to_act, supported_within
from apps.photics.causes.start_trial import start_gains, start_score
from apps.photics.causes.tank_weeks import tank_weeks
from apps.photics.colour.alignment import Alignment
from apps.photics.colour.coral_colour import WORKING, Light, problems_of
from apps.photics.colour.growth import growth
from apps.photics.colour.own_range import own_range
from apps.photics.colour.region_light import is_greyscale
from apps.photics.colour.scales import difference_of
from apps.photics.day.cross_check import ratio_of
from apps.photics.day.logged_light import LoggedLight, logged_light
from apps.photics.field.readings import NotEnoughReadings, prepare_readings
from apps.photics.field.summary import summarise
from apps.photics.ground.scene import Tank
from apps.surveys.plan.grid_rule import rule_grid

# Constant, without the "apps." before it: the test that holds it.
HELD = {
    "photics.causes.start_trial.ARRANGEMENTS_MAX": "test_two_million_arrangements_are_counted",
    "photics.causes.exposure.CHANGE_LOG2": "test_tenth_of_a_doubling_is_no_change_of_light",
    "photics.field.readings.SAME_SPOT_CM": "test_reading_half_a_cm_outside_is_inside",
    "photics.colour.own_range.HISTORY_MIN": "test_eighth_value_makes_a_range",
    "photics.colour.own_range.LIMIT_SD": "test_range_ends_at_three_deviations",
    "photics.causes.counts_and_ranks.EXACT_PAIRS_MAX": "test_nine_values_are_counted_exactly",
    "photics.causes.counts_and_ranks.EXACT_MAX": "test_ranks_are_exact_up_to_their_most",
    "photics.colour.growth.SIZES_MIN": "test_third_day_makes_a_growth",
    "photics.causes.start_trial.NOTES_MIN": "test_second_note_makes_a_gain",
    "photics.causes.start_trial.SETTLE_DAYS": "test_notes_count_from_the_tenth_day",
    "photics.day.cross_check.PAIRS_MIN": "test_third_pair_makes_a_ratio",
    "photics.day.cross_check.DARK_UMOL": "test_pair_darker_than_two_is_passed_over",
    "photics.causes.tank_weeks.WEEK_DAYS": "test_visits_a_week_apart_are_two_rounds",
    "photics.causes.tank_weeks.TANK_CHANGE_PROPORTION": "test_quarter_of_the_corals_is_the_tank",
    "photics.day.logged_light.GAP_MAX_S": "test_half_an_hour_of_silence_still_counts",
    "photics.day.logged_light.MISSING_MAX_H": "test_day_may_miss_an_hour",
    "surveys.plan.grid_rule.LONG_RATIO": "test_long_tank_is_spaced_by_its_shorter_side",
    "photics.field.readings.MIN_READINGS": "test_fourth_spot_makes_a_map",
    "photics.field.summary.DISAGREE_LOG": "test_reading_disagrees_by_size_and_by_deviations",
    "photics.field.summary.DISAGREE_DEVIATIONS": "test_reading_disagrees_by_size_and_by_deviations",
    "photics.colour.alignment.SURE_PEAK": "test_alignment_is_sure_from_its_peak",
    "photics.causes.judgement.POINTS_P": "test_enough_stands_slow_waves_in_short_notes",
    "photics.causes.judgement.WITHIN_SUPPORT": "test_corals_of_one_week_support_it_from_a_bound",
    "photics.colour.coral_colour.PIXELS_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.REFERENCE_LIGHT_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.REGION_LIGHT_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.CLIPPED_SHARE_MAX": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.UNEVEN_MAX": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.WEAKEST_SHARE_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.WEAKEST_SHARE_TINTED": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.EDGE_SHARE_MAX": "test_photo_problem_from_its_bound",
    "photics.colour.scales.CHI2_3_90": "test_difference_beyond_the_ellipsoid_is_told_apart",
    "photics.colour.region_light.GREY_CODES": "test_two_codes_between_channels_are_grey",
    "photics.colour.coral_colour.BRIGHTEST": "test_photo_problem_from_its_bound",
}


@pytest.mark.parametrize("constant", sorted(HELD))
def test_constant_is_held_by_a_test(constant):
    module, _, name = constant.rpartition(".")
    assert hasattr(importlib.import_module(f"apps.{module}"), name)
    assert callable(globals().get(HELD[constant]))


@pytest.mark.parametrize(("days", "counted"), [(1000, True), (1001, False)])
def test_two_million_arrangements_are_counted(days, counted):
    gains = [np.zeros(2000), np.zeros(days)]
    if counted:
        assert start_score(gains, [0, 0]).arrangements == 2_000_000
    else:
        with pytest.raises(ValueError, match="gain"):
            start_score(gains, [0, 0])


@pytest.mark.parametrize(
    ("log2", "changed"), [(0.09, False), (0.11, True), (-0.09, False), (-0.11, True)]
)
def test_tenth_of_a_doubling_is_no_change_of_light(log2, changed):
    found = weeks_of([("a", 0.0, 10.0), ("a", 10.0, 10.0 * 2.0**log2)])
    assert found.changed.tolist() == [False, changed]


@pytest.mark.parametrize(("x_cm", "outside"), [(60.5, 0), (60.6, 1), (-0.5, 0), (-0.6, 1)])
def test_reading_half_a_cm_outside_is_inside(x_cm, outside):
    tank = Tank(length_cm=60.0, width_cm=40.0, depth_cm=40.0)
    points = [(10.0, 10.0, 10.0), (20.0, 20.0, 20.0), (30.0, 10.0, 30.0), (x_cm, 10.0, 30.0)]
    notes = prepare_readings(
        np.array(points), np.array([100.0, 90.0, 80.0, 70.0]), None, tank
    ).notes
    assert sum("outside the tank" in note for note in notes) == outside


def test_value_at_the_limit_is_within():
    found = own_range([0.564, -0.564] * 4)
    assert (found.side(found.high), found.side(found.low)) == ("within", "within")


@pytest.mark.parametrize(("count", "known"), [(7, False), (8, True)])
def test_eighth_value_makes_a_range(count, known):
    assert (own_range(([5.0, 5.2] * 4)[:count]) is not None) == known


@pytest.mark.parametrize(
    ("deviations", "side"),
    [(2.99, "within"), (3.01, "above"), (-2.99, "within"), (-3.01, "below")],
)
def test_range_ends_at_three_deviations(deviations, side):
    # Neighbours 1.128 apart: a deviation of 1 about a middle of 0.
    assert own_range([0.564, -0.564] * 4).side(deviations) == side


@pytest.mark.parametrize(("count", "exact"), [(9, True), (10, False)])
def test_nine_values_are_counted_exactly(count, exact):
    assert rank_correlation(range(count), [1, 0, *range(2, count)]).exact == exact


@pytest.mark.parametrize("more", [0, 1])
def test_ranks_are_exact_up_to_their_most(more):
    assert rank_test([0.5, 3.5], np.arange(EXACT_MAX - 2 + more)).exact == (more == 0)


@pytest.mark.parametrize(("days", "known"), [([0, 30, 60], True), ([0, 30, 30], False)])
def test_third_day_makes_a_growth(days, known):
    assert (growth(days, [1.0, 1.1, 1.2], sd_log=[0.05] * 3) is not None) == known


@pytest.mark.parametrize(
    ("days", "known"),
    [([1, 2, 30, 31], True), ([2, 30, 31], False), ([1, 2, 31], False)],
)
def test_second_note_makes_a_gain(days, known):
    assert np.isfinite(start_gains(days, [1.0] * len(days), [10])[0]) == known


@pytest.mark.parametrize(("day", "known"), [(20, True), (19, False)])
def test_notes_count_from_the_tenth_day(day, known):
    assert np.isfinite(start_gains([8, 9, day, 30], [1.0] * 4, [10])[0]) == known


@pytest.mark.parametrize(("count", "known"), [(2, False), (3, True)])
def test_third_pair_makes_a_ratio(count, known):
    assert (ratio_of([100.0] * count, [110.0] * count) is not None) == known


@pytest.mark.parametrize(("umol", "passed_over"), [(2.0, 0), (1.9, 1)])
def test_pair_darker_than_two_is_passed_over(umol, passed_over):
    others = [100.0, 200.0, 300.0]
    assert ratio_of([*others, umol], [*others, 50.0]).passed_over == passed_over
    assert ratio_of([*others, 50.0], [*others, umol]).passed_over == passed_over


def weeks_of(rows):
    coral, day, dli = zip(*rows, strict=True)
    return tank_weeks(coral, ["t"] * len(rows), day, dli, [0.0] * len(rows))


@pytest.mark.parametrize(("apart", "rounds"), [(6.9, 1), (7.0, 2)])
def test_visits_a_week_apart_are_two_rounds(apart, rounds):
    assert len(weeks_of([("a", 0.0, 10.0), ("a", apart, 10.0)]).starts) == rounds


@pytest.mark.parametrize(("corals", "changed"), [(4, True), (5, False)])
def test_quarter_of_the_corals_is_the_tank(corals, changed):
    rows = [(k, day, 10.0) for day in (0.0, 10.0) for k in range(corals)]
    rows[corals] = (0, 10.0, 20.0)
    assert weeks_of(rows).changed.tolist() == [False, changed]


@pytest.mark.parametrize(("gap_s", "hours"), [(1800, 1.0), (1801, 0.5)])
def test_half_an_hour_of_silence_still_counts(gap_s, hours):
    found = logged_light([0, 1800, 1800 + gap_s], [100.0] * 3, start=0, end=3600)
    assert found.covered_hours == pytest.approx(hours)


@pytest.mark.parametrize(("covered", "whole"), [(23.0, True), (22.9, False)])
def test_day_may_miss_an_hour(covered, whole):
    assert LoggedLight(10.0, 300.0, covered, 24.0).is_whole == whole


@pytest.mark.parametrize(("length_cm", "by_longer"), [(200.0, True), (200.1, False)])
def test_long_tank_is_spaced_by_its_shorter_side(length_cm, by_longer):
    square = rule_grid(length_cm=100.0, width_cm=100.0).spacing_cm
    assert (rule_grid(length_cm=length_cm, width_cm=100.0).spacing_cm != square) == by_longer


@pytest.mark.parametrize(("last_cm", "enough"), [(30.6, True), (30.2, False)])
def test_fourth_spot_makes_a_map(last_cm, enough):
    tank = Tank(length_cm=60.0, width_cm=40.0, depth_cm=40.0)
    points = [(10.0, 10.0, 10.0), (20.0, 10.0, 20.0), (30.0, 10.0, 30.0), (last_cm, 10.0, 30.0)]
    par = np.array([100.0, 90.0, 80.0, 70.0])
    if enough:
        assert len(prepare_readings(np.array(points), par, None, tank).count) == 4
    else:
        with pytest.raises(NotEnoughReadings):
            prepare_readings(np.array(points), par, None, tank)


@pytest.mark.parametrize(
    ("misfit", "deviation", "odd"),
    [(0.24, 0.01, 0), (0.26, 0.01, 1), (-0.26, 0.01, 1), (0.29, 0.1, 0), (0.31, 0.1, 1)],
)
def test_reading_disagrees_by_size_and_by_deviations(misfit, deviation, odd):
    log_par = np.log([100.0, 200.0])
    readings = SimpleNamespace(
        log_par=log_par,
        own_log_par=log_par,
        place=np.array([0, 1]),
        notes=(),
    )
    pooled = SimpleNamespace(readings=readings, surveys=np.array([0, 0]))
    model = SimpleNamespace(
        leave_one_out=lambda: (np.array([misfit, 0.0]), np.array([deviation] * 2)), notes=()
    )
    assert len(summarise(pooled, [], model, object())[0].disagreeing) == odd


@pytest.mark.parametrize(("peak", "sure"), [(24.9, False), (25.0, True)])
def test_alignment_is_sure_from_its_peak(peak, sure):
    assert Alignment(np.eye(2, 3), peak).sure == sure


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    ("root", "supported"), [(1.29, False), (1.31, True), (-1.31, False), (np.nan, False)]
)
def test_corals_of_one_week_support_it_from_a_bound(side, root, supported):
    given = SimpleNamespace(ratio_per_doubling=np.exp(side), within_root=side * root)
    assert supported_within(given) == supported


@pytest.mark.parametrize(("slow_p", "enough"), [(0.049, True), (0.051, False), (np.nan, False)])
def test_enough_stands_slow_waves_in_short_notes(slow_p, enough):
    given = SimpleNamespace(
        p_value=0.001,
        n_events=6,
        low=1.5,
        high=9.0,
        direction="rise",
        ratio_per_doubling=4.0,
        within_root=2.0,
        slow_p_value=slow_p,
    )
    assert enough_to_act(given) == enough


CARD = Light(np.full(3, 0.5), np.eye(3) * 1e-4, 0.1, 0.0, 1000)
CORAL = replace(CARD, rgb=np.full(3, 0.2))


def tinted(red, green, blue):
    """A card's light, told as linear sRGB."""
    return np.linalg.solve(WORKING.to_srgb, [red, green, blue])


@pytest.mark.parametrize(
    ("card", "coral", "key", "wrong"),
    [
        ({"n_pixels": 150}, {}, "reference_small", False),
        ({"n_pixels": 149}, {}, "reference_small", True),
        ({}, {"n_pixels": 150}, "region_small", False),
        ({}, {"n_pixels": 149}, "region_small", True),
        ({"clipped_proportion": 0.10}, {}, "reference_clipped", False),
        ({"clipped_proportion": 0.11}, {}, "reference_clipped", True),
        ({}, {"clipped_proportion": 0.10}, "region_clipped", False),
        ({}, {"clipped_proportion": 0.11}, "region_clipped", True),
        ({"rgb": np.full(3, 0.031)}, {}, "reference_dark", False),
        ({"rgb": np.full(3, 0.029)}, {}, "reference_dark", True),
        ({}, {"rgb": np.full(3, 0.0041)}, "region_dark", False),
        ({}, {"rgb": np.full(3, 0.0039)}, "region_dark", True),
        ({"rgb": tinted(0.101, 0.3, 0.5)}, {}, "too_blue", False),
        ({"rgb": tinted(0.099, 0.3, 0.5)}, {}, "too_blue", True),
        ({"rgb": tinted(0.101, 0.3, 0.5)}, {}, "tinted", True),
        ({"rgb": tinted(0.099, 0.3, 0.5)}, {}, "tinted", False),
        ({"rgb": tinted(0.249, 0.3, 0.5)}, {}, "tinted", True),
        ({"rgb": tinted(0.251, 0.3, 0.5)}, {}, "tinted", False),
        ({"rgb": tinted(0.5, 0.3, 0.101)}, {}, "too_warm", False),
        ({"rgb": tinted(0.5, 0.3, 0.099)}, {}, "too_warm", True),
        ({"rgb": tinted(0.5, 0.3, 0.099)}, {}, "too_blue", False),
        ({"rgb": tinted(0.5, 0.099, 0.4)}, {}, "too_warm", True),
        ({"rgb": tinted(0.4, 0.099, 0.5)}, {}, "too_blue", True),
        ({}, {"edge_proportion": 0.10}, "gamut_edge", False),
        ({}, {"edge_proportion": 0.11}, "gamut_edge", True),
        ({"scatter": 0.30}, {}, "reference_uneven", False),
        ({"scatter": 0.31}, {}, "reference_uneven", True),
        # 1.15 of a card of 0.90 is 1.278 of the card's light.
        ({}, {"rgb": np.full(3, 0.5 * 1.27)}, "brighter_than_white", False),
        ({}, {"rgb": np.full(3, 0.5 * 1.28)}, "brighter_than_white", True),
    ],
)
def test_photo_problem_from_its_bound(card, coral, key, wrong):
    assert (
        key in problems_of(replace(CARD, **card), replace(CORAL, **coral), reflectance=0.90)
    ) == wrong


@pytest.mark.parametrize(("factor", "apart"), [(0.99, False), (1.01, True)])
def test_difference_beyond_the_ellipsoid_is_told_apart(factor, apart):
    base = np.array([60.0, 5.0, 27.0])
    moved = base + np.array([2.5003 * factor, 0.0, 0.0])
    assert (difference_of(moved, base, np.eye(3)).low > 0) == apart


@pytest.mark.parametrize(("spread", "grey"), [(2, True), (3, False)])
def test_two_codes_between_channels_are_grey(spread, grey):
    picture = np.full((40, 40, 3), 100, np.uint8)
    picture[..., 1] += spread
    assert is_greyscale(picture) == grey


def test_object_of_unknown_reflectance_is_never_outshone():
    assert "brighter_than_white" not in problems_of(
        CARD, replace(CORAL, rgb=np.full(3, 0.9)), reflectance=0.50
    )
