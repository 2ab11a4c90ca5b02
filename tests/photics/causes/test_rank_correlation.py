"""Spearman's correlation against published values."""

import doctest
import itertools
import json

import numpy as np
import pytest
from scipy.stats import spearmanr

from apps.photics.causes import counts_and_ranks as module
from apps.photics.causes.counts_and_ranks import rank_correlation
from tests.paths import DATA

CHECKS = json.loads((DATA / "checks/statistics_checks.json").read_text())["spearman"]


def test_examples_in_docstrings():
    assert doctest.testmod(module).failed == 0


# The worked example of IQ against hours of television, ten pairs (t approximation).
def test_ten_pairs_as_published():
    example = CHECKS["iq_tv"]
    found = rank_correlation(example["iq"], example["tv"])
    assert found.rho == pytest.approx(example["rho"], abs=1e-9)
    assert found.p_value == pytest.approx(example["p_t_approx"], abs=1e-9) and not found.exact


# Hollander & Wolfe 1973, p. 187: Hunter L values of tuna; R's help page of cor.test.
def test_nine_pairs_as_published():
    example = CHECKS["tuna_hunter"]
    found = rank_correlation(example["x"], example["y"])
    assert found.rho == pytest.approx(example["rho"], abs=1e-9)
    assert found.p_value == pytest.approx(example["p_exact"], abs=1e-8) and found.exact


def test_few_pairs_count_every_order():
    x, y = [1, 2, 3, 4, 5], [2, 1, 4, 3, 5]
    rho = spearmanr(x, y).statistic
    orders = [abs(spearmanr(x, order).statistic) for order in itertools.permutations(y)]
    assert rank_correlation(x, y).p_value == pytest.approx(np.mean(np.array(orders) > rho - 1e-9))


@pytest.mark.parametrize(("x", "y"), [([1, 2], [1, 2]), ([1, 1, 1], [1, 2, 3])])
def test_too_little_is_refused(x, y):
    with pytest.raises(ValueError, match="three pairs"):
        rank_correlation(x, y)
