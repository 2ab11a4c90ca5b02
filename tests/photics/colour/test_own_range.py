"""The individuals chart: published limits, and how often chance leaves them."""

import numpy as np
import pytest

from apps.photics.colour.own_range import HISTORY_MIN, own_range

# NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of ten batches; centre 50.81, limits 45.8159 and
# 55.8041 (recalled, and what the stated formula gives).
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_limits_are_mean_and_three_deviations_of_the_moving_range():
    found = own_range(FLOW)
    told = (found.low, found.centre, found.high)
    assert told == pytest.approx((45.8159, 50.81, 55.8041), abs=1e-4)


def test_short_history_has_no_range():
    assert own_range(FLOW[: HISTORY_MIN - 1]) is None


def test_sides():
    found = own_range(FLOW)
    assert [found.side(v) for v in (40, 50.8, 60)] == ["below", "within", "above"]


def test_chance_leaves_the_range_seldom():
    draws = np.random.default_rng(3).normal(size=(4000, HISTORY_MIN + 1))
    out = [own_range(row[:-1]).side(row[-1]) != "within" for row in draws]
    assert 0.01 < np.mean(out) < 0.04


def test_a_jump_of_five_deviations_is_seen():
    draws = np.random.default_rng(4).normal(size=(500, 13))
    out = [own_range(row[:-1]).side(row[-1] + 5) == "above" for row in draws]
    assert np.mean(out) > 0.9


def test_value_that_is_no_number_is_refused():
    with pytest.raises(ValueError, match="finite"):
        own_range([*FLOW, np.nan])
