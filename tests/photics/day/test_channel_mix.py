"""Another colour at the same PAR, and what is said about it."""

import doctest

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from apps.photics.day import channel_mix as module
from apps.photics.day.channel_mix import Limit, moved, par_of, par_per_watt, scaled_to_par, unusual
from apps.photics.day.spectrum import Channel, PhotonProportions, mixed

NAMES = ("blue", "white", "red")
LEVEL = st.floats(0, 1)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    st.tuples(LEVEL, LEVEL, LEVEL),
    st.tuples(*[st.floats(0, 500)] * 3),
    st.integers(0, 2),
    LEVEL,
)
def test_par_stays_however_a_channel_is_moved(levels, full, index, level):
    before = par_of(levels, full)
    assume(before > 1e-3)
    found = moved(levels, full, NAMES, index=index, level=level)
    assert par_of(found.levels, full) == pytest.approx(before, rel=1e-6)
    assert all(0 <= value <= 1 for value in found.levels)
    assert bool(found.words) == bool(found.limit) == (abs(found.levels[index] - level) > 1e-9)


def test_others_keep_their_ratio():
    found = moved((0.6, 0.3, 0.2), (200, 100, 50), NAMES, index=2, level=0.8)
    assert found.levels[0] / found.levels[1] == pytest.approx(2)


def test_channel_stops_where_another_is_at_full_level():
    found = moved((0.9, 0.5), (100, 100), NAMES, index=1, level=0.0)
    assert found.levels == pytest.approx((1.0, 0.4))
    assert found.limit == Limit.OTHERS_FULL and "white" in found.words and "40 %" in found.words


def test_channel_stops_where_it_gives_all_of_the_par():
    found = moved((0.2, 0.1), (100, 300), NAMES, index=1, level=0.9)
    assert found.levels == pytest.approx((0.0, 50 / 300))
    assert found.limit == Limit.ALL_PAR and "white" in found.words and "17 %" in found.words


def test_lone_channel_stays():
    found = moved((0.5, 0.0), (100, 300), NAMES, index=0, level=0.2)
    assert found.levels == (0.5, 0.0) and "stops at 50 %" in found.words


def test_channel_that_reaches_no_coral_moves_freely():
    found = moved((0.5, 0.5), (100, 0), NAMES, index=1, level=1.0)
    assert (found.levels, found.words) == ((0.5, 1.0), "")


def test_scaling_keeps_the_colour():
    found = scaled_to_par((0.4, 0.2), (200, 100), wanted_umol=150)
    assert found.levels == pytest.approx((0.6, 0.3)) and found.par_umol == pytest.approx(150)


def test_scaling_stops_at_full_level_and_says_so():
    found = scaled_to_par((0.4, 0.2), (200, 100), wanted_umol=900)
    assert found.levels == (1.0, 0.5) and "250 of the 900 wanted" in found.words


@pytest.mark.parametrize(
    ("levels", "full", "said"),
    [
        ((), (), "Every channel needs"),
        ((0.5,), (1, 2), "Every channel needs"),
        ((1.5,), (1,), "Levels are 0 to 1"),
        ((0.5,), (-1,), "PAR is zero or more"),
        ((0.5,), (float("nan"),), "PAR is zero or more"),
        ((0.0,), (10,), "gives no light"),
    ],
)
def test_what_no_mix_can_be_is_refused(levels, full, said):
    with pytest.raises(ValueError, match=said):
        scaled_to_par(levels, full, wanted_umol=10)


def test_yield_counts_only_what_is_on():
    assert par_per_watt((1, 0), (50, 10), (20, 20)) == 2.5
    assert par_per_watt((0, 0), (50, 10), (20, 20)) is None


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        (PhotonProportions(0.30, 0.45, 0.25), ["Blue light is 30 %", "Red light is 25 %"]),
        (PhotonProportions(0.98, 0.01, 0.01), ["Blue light is 98 %"]),
        (PhotonProportions(0.45, 0.50, 0.05), ["Green light is 50 %"]),
        (PhotonProportions(0.40, 0.45, 0.15), []),
    ],
)
def test_unusual_colours_are_named(shares, said):
    found = unusual(shares)
    assert len(found) == len(said)
    assert all(s in f for s, f in zip(said, found, strict=True))


def test_house_plant_white_is_unusual_and_a_blue_mix_is_not():
    day = Channel("white", white_kelvin=6500)
    blue = Channel("royal blue", peak_nm=450)
    assert unusual(mixed([day], [1]).proportions)
    assert not unusual(mixed([day, blue], [0.3, 0.7]).proportions)


def test_moved_levels_are_plain_numbers():
    found = moved((0.5, 0.5), (100, 100), NAMES, index=0, level=0.6)
    assert not any(isinstance(value, np.floating) for value in found.levels)


def test_docstring_examples():
    assert doctest.testmod(module).failed == 0
