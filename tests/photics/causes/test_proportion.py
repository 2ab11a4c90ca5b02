"""Wilson's interval and Fisher's exact test against published values."""

import doctest
import json

import numpy as np
import pytest

from apps.photics.causes import counts_and_ranks as proportion
from apps.photics.causes.counts_and_ranks import more_often, wilson_proportion
from tests.paths import DATA

CHECKS = json.loads((DATA / "checks/statistics_checks.json").read_text())


def test_examples_in_docstrings():
    assert doctest.testmod(proportion).failed == 0


# Newcombe 1998, Stat Med 17:857-872, table I, method 3.
@pytest.mark.parametrize("case", CHECKS["wilson_newcombe1998"])
def test_wilson_interval_as_published(case):
    count, number = map(int, case.split("/"))
    found = wilson_proportion(count, number)
    expected = CHECKS["wilson_newcombe1998"][case]
    np.testing.assert_allclose([found.low, found.high], expected, atol=1e-9)


# Fisher 1935, The Design of Experiments: the lady tasting tea, three of four cups right.
def test_tasting_tea():
    p = more_often(wilson_proportion(3, 4), wilson_proportion(1, 4))
    assert p == pytest.approx(CHECKS["fisher"]["tea_3_1_1_3"]["p_greater"], abs=1e-9)


# Fisher 1962: convictions of like-sex twins; R's help page of fisher.test, alternative "less".
def test_convictions_of_twins():
    (a, b), (c, d) = CHECKS["fisher"]["convictions_2_15_10_3"]["table_rows"]
    p = more_often(wilson_proportion(c, c + d), wilson_proportion(a, a + b))
    expected = CHECKS["fisher"]["convictions_2_15_10_3"]["p_less"]
    assert p == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("count", "number"), [(-1, 3), (4, 3), (0, 0)])
def test_impossible_share_is_refused(count, number):
    with pytest.raises(ValueError, match="above zero"):
        wilson_proportion(count, number)
