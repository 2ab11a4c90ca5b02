"""Changes of a day curve keep what they promise to keep."""

import doctest

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.photics.day import change as module
from apps.photics.day.change import (
    joined,
    lit_time,
    mirrored,
    scaled_to_dli,
    shifted,
    stretched,
)
from apps.photics.day.curve import DARK, RAMPS, DayCurve, DayCurveError, day_curve, ramped_day
from apps.photics.ground.dose import dli_mol
from tests.photics.day.test_day_curve import curves

EVENING = DayCurve(((840, 0), (900, 0.8), (1320, 0.4), (1500, 0)), name="evening")


@settings(max_examples=50, deadline=None, derandomize=True)
@given(curves(), st.integers(-3000, 3000))
def test_shift_keeps_the_sum_and_moves_the_levels(curve, minutes):
    moved = shifted(curve, minutes=minutes)
    at = np.arange(0.5, 1440, 7)
    assert moved.full_hours == pytest.approx(curve.full_hours, abs=1e-12)
    np.testing.assert_allclose(moved.level_at(at + minutes), curve.level_at(at), atol=1e-12)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(curves())
def test_mirror_twice_is_the_same_day(curve):
    assert mirrored(mirrored(curve)).points == curve.points
    assert mirrored(curve).full_hours == pytest.approx(curve.full_hours, abs=1e-12)


@pytest.mark.parametrize("ramp", list(RAMPS))
def test_stretch_multiplies_the_sum_and_keeps_the_middle(ramp):
    curve = DayCurve(EVENING.points, ramp=ramp)
    longer = stretched(curve, factor=1.25)
    assert longer.full_hours == pytest.approx(1.25 * curve.full_hours, rel=1e-12)
    assert np.mean([longer.points[0][0], longer.points[-1][0]]) == 1170


def test_stretch_beyond_a_day_is_refused():
    with pytest.raises(DayCurveError, match="longer than a day"):
        stretched(EVENING, factor=3)


@pytest.mark.parametrize("factor", [0, -1, float("nan")])
def test_stretch_by_nothing_is_refused(factor):
    with pytest.raises(DayCurveError, match="above zero"):
        stretched(EVENING, factor=factor)


def test_scaled_curve_gives_the_wanted_dose():
    scaled = scaled_to_dli(EVENING, par_umol=250, wanted_dli_mol=4)
    assert dli_mol(250, full_hours=scaled.curve.full_hours) == pytest.approx(4, rel=1e-12)
    assert (scaled.clipped, scaled.words) == (False, "")


def test_scaled_curve_stops_at_full_light_and_says_so():
    scaled = scaled_to_dli(EVENING, par_umol=100, wanted_dli_mol=9)
    assert scaled.curve.peak == 1
    assert scaled.dli_mol == pytest.approx(dli_mol(100, full_hours=EVENING.full_hours) / 0.8)
    assert scaled.clipped and "9" in scaled.words


@pytest.mark.parametrize(("curve", "par"), [(DARK, 100), (EVENING, 0)])
def test_nothing_to_scale_is_refused(curve, par):
    with pytest.raises(DayCurveError, match="nothing to scale"):
        scaled_to_dli(curve, par_umol=par, wanted_dli_mol=5)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(curves(), curves(), st.sampled_from([0.0, 0.3, 0.5]))
def test_joined_groups_are_the_sum_of_their_levels(a, b, share):
    both = joined([a, b], [share, 0.5])
    at = np.arange(0.5, 1440, 3) + 0.123
    expected = share * a.level_at(at) + 0.5 * b.level_at(at)
    np.testing.assert_allclose(both.level_at(at), expected, atol=1e-5)
    total = share * a.full_hours + 0.5 * b.full_hours
    assert both.full_hours == pytest.approx(total, abs=24e-5)


def test_joined_straight_groups_are_exact():
    blue = ramped_day(start_minute=600, day_hours=12, ramp_hours=2)
    white = day_curve([(720, 0), (780, 1), (1140, 1), (1200, 0)])
    both = joined([blue, white], [0.7, 0.3])
    assert both.full_hours == pytest.approx(0.7 * 10 + 0.3 * 7, rel=1e-12)
    assert both.peak == pytest.approx(1, rel=1e-12)
    assert both.photoperiod_hours == 12


def test_joined_night_light_begins_after_the_longest_dark():
    late = day_curve([(1200, 0.5), (240, 0.5)])
    later = day_curve([(120, 0.2), (180, 0.2)])
    both = joined([late, later], [0.5, 0.5])
    assert both.points[0] == (1200, 0.25) and both.points[-1] == (1680, 0.25)


def test_joined_nothing_is_dark():
    assert joined([], []).points == ()
    assert joined([EVENING], [0.0]).full_hours == 0


@pytest.mark.parametrize("shares", [[0.8, 0.3], [-0.1, 0.3]])
def test_shares_that_make_no_whole_are_refused(shares):
    with pytest.raises(DayCurveError, match="sum to at most 1"):
        joined([EVENING, EVENING], shares)


def test_docstring_examples():
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize(
    ("days", "hours"),
    [
        ([], 0),
        ([DARK], 0),
        # Past midnight, its evening within another's.
        ([EVENING, DayCurve(((480, 1), (960, 0.1)))], 17),
        ([DayCurve(((0, 0.02), (1440, 0.02)), moonlight=True)], 24),
        # An hour in the middle is dark.
        ([DayCurve(((480, 1), (540, 0), (600, 0), (660, 1)))], 2),
    ],
)
def test_time_with_any_light_is_that_of_any_curve(days, hours):
    lit = lit_time(days)
    assert lit.full_hours == pytest.approx(hours, abs=1e-12)
    assert lit.photoperiod_hours == pytest.approx(hours, abs=1e-12)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(curves())
def test_one_curves_lit_time_is_its_photoperiod(curve):
    assert lit_time([curve]).full_hours == pytest.approx(curve.photoperiod_hours, abs=1e-9)
