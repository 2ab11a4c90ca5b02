"""Change between two maps: ratios, which of them are real, how often noise is called so."""

import numpy as np
import pytest

from apps.photics.field.field_change import field_change
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.normal import NORMAL_90


def estimate(log_par, deviation, beyond=False):
    log_par = np.asarray(log_par, float)
    reach = NORMAL_90 * deviation
    return Estimate(
        np.exp(log_par),
        np.exp(log_par - reach),
        np.exp(log_par + reach),
        np.full(log_par.shape, beyond),
        np.zeros(log_par.shape, bool),
    )


def test_a_known_change_is_found_and_real():
    found = field_change(estimate([5.0, 4.0], 0.05), estimate(np.array([5.0, 4.0]) - 0.3, 0.05))
    assert found.ratio == pytest.approx(np.exp(-0.3)) and found.is_real.all()


def test_no_change_is_noise():
    found = field_change(estimate([5.0], 0.05), estimate([5.05], 0.05))
    assert not found.is_real.any() and found.low[0] < 1 < found.high[0]


def test_pure_noise_is_called_real_one_time_in_ten():
    rng = np.random.default_rng(3)
    truth = rng.uniform(3, 6, 4000)
    maps = [estimate(truth + rng.normal(0, s, 4000), s) for s in (0.06, 0.1)]
    # Binomial: 0.1 of 4000 deviates by 0.5 %; four of them either way.
    assert field_change(*maps).is_real.mean() == pytest.approx(0.1, abs=0.02)


def test_turned_round_is_one_over_and_as_real():
    a, b = estimate([5.0, 4.0], 0.05), estimate([4.9, 4.4], 0.1)
    there, back = field_change(a, b), field_change(b, a)
    assert there.ratio * back.ratio == pytest.approx(1.0)
    assert (there.is_real == back.is_real).all()


def test_beyond_either_map_is_beyond():
    assert field_change(estimate([5.0], 0.1, True), estimate([5.0], 0.1)).beyond.all()


def test_maps_of_other_points_are_refused():
    with pytest.raises(ValueError, match="same points"):
        field_change(estimate([5.0], 0.1), estimate([5.0, 4.0], 0.1))
