"""How far meters' scales may be off after checks, against posteriors worked out by hand."""

import doctest

import numpy as np
import pytest

from apps.photics.day import meter_scale as module
from apps.photics.day.meter_scale import MeterComparison, ratio_with_deviation, scale_posterior


def test_two_meters_that_differ_meet_half_way_and_both_get_surer():
    """Both off by 0.05, apart by 0.1 +- 0.05: gain 0.0025 / 0.0075, a third of the way each."""
    pair = [MeterComparison(0, 1, 0.1, 0.05)]
    mean, covariance = scale_posterior([0, 0], [0.05, 0.05], pair)
    np.testing.assert_allclose(mean, [0.1 / 3, -0.1 / 3])
    np.testing.assert_allclose(np.diag(covariance), 0.0025 - 0.0025**2 / 0.0075)
    # And how far they may be apart: 1 / (1 / 0.005 + 1 / 0.0025).
    contrast = np.array([1.0, -1.0])
    assert contrast @ covariance @ contrast == pytest.approx(1 / (1 / 0.005 + 1 / 0.0025))


def test_a_check_narrows_a_scale_to_about_the_checks_own():
    """0.15 before, a reference of 0.04: weights 44.4 and 625, so 0.0386 and 0.934 of the way."""
    mean, covariance = scale_posterior([0.0], [0.15], [MeterComparison(0, None, 0.1, 0.04)])
    assert mean[0] == pytest.approx(0.1 * 625 / (625 + 1 / 0.0225))
    assert covariance[0, 0] ** 0.5 == pytest.approx((625 + 1 / 0.0225) ** -0.5)


def test_an_unstated_scale_is_what_its_check_says():
    mean, covariance = scale_posterior([0.0], [np.nan], [MeterComparison(0, None, 0.1, 0.04)])
    assert mean[0] == pytest.approx(0.1, abs=1e-4)
    assert covariance[0, 0] ** 0.5 == pytest.approx(0.04, rel=1e-4)


def test_two_unstated_scales_stay_unknown_however_they_compare():
    covariance = scale_posterior([0, 0], [np.nan] * 2, [MeterComparison(0, 1, 0.1, 0.02)])[1]
    assert (np.diag(covariance) > module.KNOWN_MOST**2).all()


def test_without_comparisons_nothing_moves():
    mean, covariance = scale_posterior([0.2], [0.05], [])
    assert mean.tolist() == [0.2] and covariance[0, 0] == pytest.approx(0.0025)


def test_pairs_that_agree_are_no_surer_than_hand_held_meters():
    log_ratio, deviation = ratio_with_deviation([100, 200, 300, 400], [110, 220, 330, 440])
    assert log_ratio == pytest.approx(np.log(1.1)) and deviation == pytest.approx(0.025)


def test_pairs_that_scatter_say_so():
    deviation = ratio_with_deviation([100, 100], [100, 150])[1]
    assert deviation == pytest.approx(np.log(1.5) / np.sqrt(2) / np.sqrt(2))


def test_examples_of_the_module_hold():
    assert doctest.testmod(module).failed == 0
