"""The light before a day: a known history, shared errors, and what is refused."""

import doctest

import numpy as np
import pytest

from apps.photics.causes import light_before as module
from apps.photics.causes.exposure import acclimated_light
from apps.photics.causes.light_before import light_before


def test_examples_in_docstrings():
    assert doctest.testmod(module).failed == 0


def test_running_mean_is_the_integral_over_days():
    began, light = [60.0, 20.0, 5.0], [100.0, 150.0, 90.0]
    days = np.arange(0, 4000, 0.01) + 0.005  # days ago; before the first it was the first
    then = np.select([days < 5, days < 20], [90.0, 150.0], 100.0)
    weight = np.exp(-days / 16.0)
    found = light_before(began, light, [[1]] * 3, [0.1], window_days=42)
    # The sum of small steps is off by their square.
    assert found.acclimated == pytest.approx(np.sum(weight * then) / np.sum(weight), rel=1e-5)


def test_steady_light_has_no_ratio_and_no_change():
    found = light_before([90.0], [120.0], [[1]], [0.3], window_days=42)
    assert (found.log2_ratio, found.rise_log2, found.fall_log2) == (0, 0, 0)
    assert found.days_since_change is None and found.high_log2 == 0


def test_rises_and_falls_are_summed_apart_within_the_window():
    began, light = [90.0, 60.0, 20.0, 9.0], [100.0, 400.0, 800.0, 400.0]
    found = light_before(began, light, [[1]] * 4, [0.1], window_days=42)
    assert (found.rise_log2, found.fall_log2) == (1.0, 1.0)
    assert found.days_since_change == 9.0


def test_a_surveys_error_leaves_the_ratio_alone_and_a_changes_does_not():
    shared = light_before([40.0, 10.0], [100.0, 200.0], [[1], [1]], [0.2], window_days=42)
    own = light_before([40.0, 10.0], [100.0, 200.0], [[0], [1]], [0.1], window_days=42)
    assert shared.low_log2 == shared.high_log2
    # Old light's part of the mean: exp(-10/16) of 100 against the rest of 200.
    old = np.exp(-10 / 16)
    part = old * 100 / (old * 100 + (1 - old) * 200)
    assert own.high_log2 - own.log2_ratio == pytest.approx(1.645 * 0.1 * part / np.log(2))


def test_weekly_visits_come_near_the_exact_mean():
    """The visits' own running mean guesses when in the week the light changed."""
    visits = acclimated_light(7.0 * np.arange(9), [100.0] * 7 + [200.0] * 2)
    exact = light_before([56.0, 12.0], [100.0, 200.0], [[1]] * 2, [0.1], window_days=42)
    assert visits[-1] == pytest.approx(exact.acclimated, rel=0.15)


@pytest.mark.parametrize(
    ("began", "light"), [([], []), ([3.0, 5.0], [1.0, 2.0]), ([5.0, 0.0], [1.0, 2.0]), ([5.0], [0])]
)
def test_impossible_stretches_are_refused(began, light):
    with pytest.raises(ValueError, match="follow one another"):
        light_before(began, light, np.ones((len(began), 1)), [0.1], window_days=42)
