"""Ratios of paired readings: known truth, interval coverage, what cannot be said."""

import numpy as np
import pytest

from apps.photics.day.cross_check import common_places, ratio_of


def test_a_constant_factor_is_found_exactly():
    found = ratio_of([50, 100, 400], [60, 120, 480])
    assert found.ratio == pytest.approx(1.2) and found.high - found.low < 1e-9
    assert not found.is_one


def test_the_interval_holds_the_truth_nine_times_in_ten():
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(1000):
        first = rng.uniform(50, 400, 9)
        found = ratio_of(first, first * 1.1 * np.exp(rng.normal(0, 0.08, 9)))
        held += found.low <= 1.1 <= found.high
    # Binomial: 0.9 of 1000 deviates by 9.5; three of them either way.
    assert 870 <= held <= 930


def test_turned_round_it_is_one_over():
    a, b = [50, 120, 300], [60, 130, 310]
    assert ratio_of(a, b).ratio * ratio_of(b, a).ratio == pytest.approx(1.0)


@pytest.mark.parametrize("few", [([], []), ([100, 90], [100, 95]), ([0, 0, 1, 50], [9, 9, 9, 50])])
def test_too_few_bright_pairs_say_nothing(few):
    assert ratio_of(*few) is None


def test_partners_are_the_nearest_and_only_once():
    first = [(0, 0, 0), (10, 0, 0), (50, 0, 0)]
    second = [(1.5, 0, 0), (0.5, 0, 0), (10, 1, 1), (49, 5, 0)]
    assert common_places(first, second, within_cm=2.0).tolist() == [[0, 1], [1, 2]]
    assert common_places([], second, within_cm=2.0).shape == (0, 2)
