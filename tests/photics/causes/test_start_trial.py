"""A step on a drawn day: a published count, a known truth, and what cannot be scored."""

import doctest
import json

import numpy as np
import pytest

from apps.photics.causes import start_trial as module
from apps.photics.causes.start_trial import start_gains, start_score
from tests.paths import DATA

CHECKS = json.loads((DATA / "checks/statistics_checks.json").read_text())


def test_examples_in_docstrings():
    assert doctest.testmod(module).failed == 0


# Darwin's maize, Fisher 1935, The Design of Experiments, section 21: of 32768 ways to give the 15
# differences a sign, 863 have so large a sum. Each pair is a coral with two days to draw from.
def test_darwins_pairs_as_published():
    example = CHECKS["perm_darwin_paired"]
    pairs = [[d, -d] for d in example["diffs_eighths"]]
    found = start_score(pairs, [0] * 15)
    assert found.arrangements == 32768
    assert found.p_better * 32768 == pytest.approx(example["one_sided_count"])


def test_step_that_heals_is_scored_on_its_own_day():
    days, starts = np.arange(0, 60, 3), np.arange(15, 45, 3)
    severity = np.where(days < 30, 2, 0)
    gains = start_gains(days, severity, starts, settle_days=0)
    found = start_score([gains], [list(starts).index(30)])
    assert found.gain == 2 and found.p_better == found.smallest_p == 0.1


def test_two_corals_can_show_what_one_cannot():
    days, starts = np.arange(0, 60, 3), np.arange(15, 45, 3)
    gains, drawn = [], []
    for start in (18, 36):
        gains.append(start_gains(days, np.where(days < start, 2, 0), starts, settle_days=0))
        drawn.append(list(starts).index(start))
    assert start_score(gains, drawn).p_better == 0.01


def test_draw_alone_finds_as_often_as_it_says():
    """Over all days that could have been drawn, p is at most 0.1 for one in ten."""
    rng = np.random.default_rng(6)
    gains = rng.normal(size=10)
    p = [start_score([gains], [k]).p_better for k in range(10)]
    np.testing.assert_allclose(sorted(p), np.arange(1, 11) / 10)


def test_notes_while_corals_settle_speak_for_neither_side():
    gains = start_gains([0, 3, 6, 9, 12, 15], [2, 2, 9, 9, 1, 1], [6], settle_days=6)
    assert gains.tolist() == [1.0]


def test_too_few_notes_on_a_side_are_no_gain():
    gains = start_gains([0, 3, 6, 9], [1, 1, 1, 1], [3, 6], settle_days=0)
    assert np.isnan(gains[0]) and gains[1] == 0
    with pytest.raises(ValueError, match="needs its gain"):
        start_score([gains], [1])
