"""Dose and response: the curve, its bins, and groups that lean on each other."""

import doctest

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from apps.photics.causes import response_curves as pooling_module
from apps.photics.causes.counts_and_ranks import wilson_proportion
from apps.photics.causes.response_curves import (
    Bin,
    anchored_response,
    dose_response,
    partial_pooling,
)


@pytest.fixture(scope="module")
def visits():
    rng = np.random.default_rng(4)
    dose = rng.choice([-1.0, 0.0, 0.0, 0.0, 0.5, 1.0], 3000)
    risk = 1 / (1 + np.exp(3.5 - np.log(4) * dose))
    group = rng.choice(["lps", "soft", "sps"], 3000)
    return dose, (rng.random(3000) < risk).astype(int), group


def test_known_effect_is_within_the_interval(visits):
    found = dose_response(*visits)
    assert found.ratio_low < 4 < found.ratio_high
    at = np.interp(1.0, found.dose_log2, found.risk)
    assert at == pytest.approx(1 / (1 + np.exp(3.5 - np.log(4))), rel=0.25)


def test_bins_hold_every_visit_once(visits):
    found = dose_response(*visits)
    assert sum(b.share.number for b in found.bins) == 3000
    assert sum(b.share.count for b in found.bins) == visits[1].sum()


def test_a_bin_holds_the_visits_between_its_ratios(visits):
    dose, event, _ = visits
    doubled = dose_response(*visits).bins[-1]
    assert (doubled.low, doubled.middle_log2) == (2.0, 1.0)
    assert doubled.share.count == event[dose == 1].sum()


def test_like_groups_agree_more_than_their_own_data(visits):
    found = dose_response(*visits)
    assert [g.group for g in found.groups] == ["lps", "soft", "sps"]
    assert max(g.ratio for g in found.groups) / min(g.ratio for g in found.groups) < 2


def test_separated_group_has_a_finite_effect():
    dose = np.r_[np.zeros(20), np.ones(5)]
    found = dose_response(dose, dose, np.repeat("sps", 25))
    assert 1 < found.groups[0].low < found.groups[0].ratio < np.inf


@pytest.mark.parametrize(
    ("dose", "event"),
    [([0, 1, 0, 1], [0, 1, 1, 0]), ([0, 0, 0, 0], [1, 1, 1, 0]), ([0, 1, 0, 1], [1, 1, 1, 1])],
)
def test_too_little_carries_no_curve(dose, event):
    assert dose_response(dose, event, ["sps"] * 4) is None


def test_examples_in_docstrings():
    assert doctest.testmod(pooling_module).failed == 0


def test_statsmodels_finds_the_same_middle_and_spread():
    effect, error = [0.9, 1.8, 0.2, 2.4], [0.3, 0.5, 0.4, 0.6]
    found = partial_pooling(effect, error)
    peer = combine_effects(np.array(effect), np.array(error) ** 2, method_re="dl")
    assert found.spread**2 == pytest.approx(peer.tau2)
    assert found.middle == pytest.approx(peer.mean_effect_re)
    assert found.middle_error == pytest.approx(peer.sd_eff_w_re)


def test_poor_groups_move_further_than_rich_ones():
    found = partial_pooling([0.0, 3.0, 3.0], [0.2, 0.2, 1.5])
    assert abs(found.effect[1] - 3.0) < abs(found.effect[2] - 3.0)


RATIO = 3.0
BINS = ((0.0, 0.5, -2.0), (0.5, 2.0, 0.0), (2.0, np.inf, 2.0))


def counted(height=-2.0, number=1_000_000):
    """Return bins whose shares follow odds of RATIO a doubling."""
    risks = 1 / (1 + np.exp(-height - np.log(RATIO) * np.array([-2, 0, 2])))
    return [
        Bin(*ends, wilson_proportion(round(risk * number), number), dose)
        for (*ends, dose), risk in zip(BINS, risks, strict=True)
    ]


def test_true_odds_draw_the_line_through_the_shares():
    bins = counted()
    found = anchored_response(bins, ratio=RATIO, low=2.0, high=4.0)
    at = np.interp([-2, 0, 2], found.dose_log2, found.risk)
    # Counts are rounded to one in a million.
    assert at == pytest.approx([b.share.value for b in bins], rel=1e-4)


def test_line_of_any_odds_gives_the_events_counted():
    bins = counted()
    found = anchored_response(bins, ratio=1.0, low=1 / 50, high=50.0)
    given = sum(np.interp([-2, 0, 2], found.dose_log2, found.risk)) * 1_000_000
    assert given == pytest.approx(sum(b.share.count for b in bins), rel=1e-6)
    assert (found.low <= found.risk).all() and (found.risk <= found.high).all()


@pytest.mark.parametrize(
    "bins", [counted()[:1], [Bin(*b[:2], wilson_proportion(0, 9), b[2]) for b in BINS]]
)
def test_nothing_to_draw_a_line_through(bins):
    assert anchored_response(bins, ratio=2.0, low=1.0, high=4.0) is None
