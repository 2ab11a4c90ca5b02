"""The exact rank test against published values, brute force and scipy."""

import doctest
import itertools
import json

import numpy as np
import pytest
from scipy import stats

from apps.photics.causes import counts_and_ranks as ranks
from apps.photics.causes.counts_and_ranks import (
    rank_test,
    stratified_rank_test,
    subset_sum_proportions,
)
from tests.paths import DATA

CHECKS = json.loads((DATA / "checks/statistics_checks.json").read_text())


def test_examples_in_docstrings():
    assert doctest.testmod(ranks).failed == 0


# R's own help page of wilcox.test, "depression / permeability" example: W = 35.
@pytest.fixture
def permeability():
    example = CHECKS["mannwhitney_R_example"]
    return rank_test(example["x"], example["y"])


def test_permeability_statistic(permeability):
    assert permeability.u == 35 and permeability.direction == "higher"


def test_permeability_one_sided(permeability):
    # Published with six digits.
    assert permeability.p_higher == pytest.approx(0.127206, abs=5e-7)


def test_permeability_two_sided(permeability):
    assert permeability.p_value == pytest.approx(0.254412, abs=5e-7)


def test_permeability_effect_is_share_of_pairs(permeability):
    assert permeability.effect == pytest.approx(35 / 50)


# Efron & Tibshirani, An Introduction to the Bootstrap (1993), mouse data: 1613 of 11440
# arrangements have a treated sum at least as large as the one seen.
def test_counting_reproduces_the_mouse_permutation():
    mice = CHECKS["perm_mouse"]
    pooled, size = mice["treated"] + mice["control"], len(mice["treated"])
    share = subset_sum_proportions(pooled, size)[sum(mice["treated"]) :].sum()
    assert share * 11440 == pytest.approx(1613, abs=1e-6)


def test_mouse_ranks_give_the_published_u():
    mice = CHECKS["perm_mouse"]
    found = rank_test(mice["treated"], mice["control"])
    assert found.u == CHECKS["perm_mouse"]["mannwhitney_U"]
    assert found.p_value == pytest.approx(mice["mannwhitney_p_exact_two"], abs=1e-9)


def brute_tails(first, second):
    """Count every relabelling of the pooled mid-ranks."""
    pooled = stats.rankdata([*first, *second])
    seen = pooled[: len(first)].sum()
    sums = [sum(chosen) for chosen in itertools.combinations(pooled, len(first))]
    return (
        np.mean([s >= seen - 1e-9 for s in sums]),
        np.mean([s <= seen + 1e-9 for s in sums]),
    )


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ([3, 3, 5], [1, 3, 3, 2]),
        ([1, 1, 1, 2], [1, 2, 2, 2, 2]),
        ([9.5, 2, 2], [2, 2]),
        ([4], [4, 4, 1]),
    ],
)
def test_ties_agree_with_every_relabelling_counted(first, second):
    found = rank_test(first, second)
    assert (found.p_higher, found.p_lower) == pytest.approx(brute_tails(first, second))


def test_no_ties_agree_with_scipy():
    rng = np.random.default_rng(5)
    first, second = rng.normal(0.4, 1, 14), rng.normal(0, 1, 19)
    theirs = stats.mannwhitneyu(first, second, method="exact")
    found = rank_test(first, second)
    assert found.u == theirs.statistic
    assert found.p_value == pytest.approx(theirs.pvalue, rel=1e-9)


def test_one_against_five_can_show_nothing():
    found = rank_test([9], [1, 2, 3, 4, 5])
    assert found.smallest_p_value == pytest.approx(1 / 3)
    assert found.p_value == pytest.approx(found.smallest_p_value)


def test_ties_raise_the_smallest_p():
    untied, tied = rank_test([7, 8, 9], [1, 2, 3, 4]), rank_test([7, 7, 7], [1, 7, 7, 4])
    assert untied.smallest_p_value == pytest.approx(2 / 35)
    assert tied.smallest_p_value > untied.smallest_p_value


def test_all_equal_shows_nothing():
    found = rank_test([2, 2, 2], [2, 2, 2, 2])
    assert (found.p_value, found.effect, found.direction) == (1.0, 0.5, "same")
    assert found.smallest_p_value == 1.0


def test_swapping_the_groups_turns_it_round():
    one, other = rank_test([5, 6, 9], [1, 2, 7, 3]), rank_test([1, 2, 7, 3], [5, 6, 9])
    assert one.p_value == pytest.approx(other.p_value)
    assert one.effect == pytest.approx(1 - other.effect)
    assert (one.direction, other.direction) == ("higher", "lower")


def test_many_values_are_approximated_and_say_so():
    rng = np.random.default_rng(8)
    found = rank_test(rng.normal(size=60), rng.normal(size=60))
    assert not found.exact and "approximation" in found.note


def test_approximation_meets_the_exact_value_at_the_bound():
    rng = np.random.default_rng(8)
    first, second = rng.normal(0.5, 1, 30), rng.normal(0, 1, 30)
    exact = rank_test(first, second)
    approximate = ranks.approximate_tails(first, second)
    assert exact.exact
    # What the comment at the bound promises.
    assert approximate == pytest.approx((exact.p_higher, exact.p_lower), abs=1e-3)


@pytest.mark.parametrize("groups", [([], [1.0]), ([1.0], []), ([float("nan")], [1.0])])
def test_empty_or_unknown_values_are_refused(groups):
    with pytest.raises(ValueError):
        rank_test(*groups)


def test_one_stratum_is_the_plain_test():
    first, second = [3.0, 5.0, 8.0], [1.0, 2.0, 4.0, 5.0]
    plain = rank_test(first, second)
    found = stratified_rank_test(first, second, ["a"] * 3, ["a"] * 4)
    assert found.p_value == pytest.approx(plain.p_value) and found.u == plain.u


def test_strata_agree_with_every_relabelling_counted():
    values = {"a": [3.0, 7.0, 1.0, 2.0], "b": [5.0, 5.0, 9.0]}
    firsts = {"a": 2, "b": 1}

    def statistic(picked):
        ranks = {k: stats.rankdata(v) for k, v in values.items()}
        return sum(ranks[k][list(rows)].sum() for k, rows in picked.items())

    ways = [
        statistic({"a": one, "b": two})
        for one in itertools.combinations(range(4), 2)
        for two in itertools.combinations(range(3), 1)
    ]
    seen = statistic({"a": (0, 1), "b": (0,)})
    found = stratified_rank_test(
        [v for k in values for v in values[k][: firsts[k]]],
        [v for k in values for v in values[k][firsts[k] :]],
        ["a", "a", "b"],
        ["a", "a", "b", "b"],
    )
    assert found.p_higher == pytest.approx(np.mean([way >= seen for way in ways]))
    assert found.p_lower == pytest.approx(np.mean([way <= seen for way in ways]))


def test_difference_between_strata_alone_says_nothing():
    found = stratified_rank_test([10.0, 1.0], [10.0, 1.0], ["a", "b"], ["a", "b"])
    assert found.direction == "same" and found.p_value == 1


def test_strata_without_both_groups_are_refused():
    with pytest.raises(ValueError, match="both groups"):
        stratified_rank_test([1.0], [2.0], ["a"], ["b"])
