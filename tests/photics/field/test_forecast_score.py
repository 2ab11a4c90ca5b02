"""A forecast's score against readings of a known truth."""

import numpy as np
import pytest

from apps.photics.field.forecast_score import forecast_score

RNG = np.random.default_rng(4)


def world(*, bias=1.0, error=0.1, n=400):
    """Readings with 5 % noise of a light foretold with a known error and an honest interval."""
    truth = RNG.uniform(60, 400, n)
    predicted = truth * np.exp(RNG.normal(0, error, n))
    reach = np.exp(1.645 * error)
    measured = bias * truth * np.exp(RNG.normal(0, 0.05, n))
    return forecast_score(predicted, predicted / reach, predicted * reach, measured)


def test_honest_interval_covers_nine_in_ten():
    found = world()
    # Three deviations of a share of 400.
    assert found.covered_percent == pytest.approx(90, abs=4.5)
    # The median of |N(0, 0.112)| is 0.674 deviations.
    assert found.error_percent == pytest.approx(7.5, abs=1.2)


def test_loss_the_log_does_not_know_is_found_with_its_interval():
    found = world(bias=0.8)
    assert found.ratio_low < 0.8 < found.ratio_high < 1


def test_one_pair_is_the_one_published_beside_it():
    found = forecast_score([182.0], [170.0], [195.0], [171.0])
    assert found.error_percent == pytest.approx(100 * (182 / 171 - 1))
    assert found.ratio_low < 1 < found.ratio_high


def test_zero_readings_say_nothing():
    assert forecast_score([100, 50], [90, 45], [110, 55], [0, 50]).n == 1
    with pytest.raises(ValueError, match="no reading"):
        forecast_score([100], [90], [110], [0])
