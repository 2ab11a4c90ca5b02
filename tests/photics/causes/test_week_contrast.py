"""Parts that add up over tanks give what one fit of all gives."""

import numpy as np
import pytest

from apps.photics.causes.conditional_logit import fit_conditional
from apps.photics.causes.week_contrast import EFFECTS, pooled_effect, week_log_likelihood


@pytest.fixture(scope="module")
def visits():
    rng = np.random.default_rng(12)
    dose, stratum = rng.normal(0, 0.8, 1200), np.repeat(np.arange(120), 10)
    # A week's own level, which must drop out.
    level = rng.normal(-2.5, 2, 120)[stratum]
    event = (rng.random(1200) < 1 / (1 + np.exp(-level - np.log(3) * dose))).astype(int)
    return dose, event, stratum


def test_top_is_that_of_conditional_logistic_regression(visits):
    found = pooled_effect(week_log_likelihood(*visits))
    fit = fit_conditional(*visits)
    # The fine grid's step is 0.005.
    assert np.log(found.ratio) == pytest.approx(fit.coefficients[0], abs=0.005)
    assert found.low < 3 < found.high


def test_interval_is_near_that_of_the_standard_error(visits):
    found, fit = pooled_effect(week_log_likelihood(*visits)), fit_conditional(*visits)
    width = np.log(found.high / found.low)
    assert width == pytest.approx(2 * 1.96 * fit.standard_errors[0], rel=0.05)


def test_parts_add_up(visits):
    dose, event, stratum = visits
    parts = [
        week_log_likelihood(dose[here], event[here], stratum[here])
        for here in (stratum % 3 == k for k in range(3))
    ]
    np.testing.assert_allclose(sum(parts), week_log_likelihood(*visits), atol=1e-9)


def test_a_week_that_struck_all_says_nothing():
    part = week_log_likelihood([0.0, 1.0, 2.0], [1, 1, 1], [0, 0, 0])
    assert not part.any() and pooled_effect(part) is None


def test_separation_has_no_upper_end():
    part = week_log_likelihood([0.0, 1.0] * 4, [0, 1] * 4, np.repeat(np.arange(4), 2))
    found = pooled_effect(part)
    assert found.high == np.inf and found.ratio == pytest.approx(np.exp(EFFECTS[-1]))
