"""Benjamini-Hochberg against its paper's own example."""

import numpy as np
import pytest

from apps.photics.causes.counts_and_ranks import benjamini_hochberg

# Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300, section 4.1 (15 hypotheses; recalled from
# memory, checked with R and scipy).
PAPER = [
    *(0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344),
    *(0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0),
]


def test_paper_example_rejects_four():
    q = benjamini_hochberg(PAPER)
    expected = [0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765]
    np.testing.assert_allclose(q[:9], expected, atol=5e-7)
    assert np.sum(q <= 0.05) == 4


def test_order_does_not_matter_and_missing_stay_missing():
    mixed = [0.04, np.nan, 0.01]
    np.testing.assert_allclose(benjamini_hochberg(mixed), [0.04, np.nan, 0.02])


def test_impossible_p_is_refused():
    with pytest.raises(ValueError, match="between 0 and 1"):
        benjamini_hochberg([1.2])
