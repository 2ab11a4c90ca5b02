"""A dot on a line whose middle is even: odds and proportions lie on their sides, held within."""

import math

import pytest

from apps.drawing.even_line import EDGE_PERCENT, odds_line, share_line


@pytest.mark.parametrize(("ratio", "at"), [(1.0, 50.0), (16.0, 97.0), (1 / 16, 3.0), (4.0, 73.5)])
def test_odds_lie_by_their_doublings(ratio, at):
    assert odds_line(ratio, low=ratio, high=ratio).mark == pytest.approx(at)


@pytest.mark.parametrize("ratio", [0.0, 1e-9, 1e9, math.inf])
def test_odds_beyond_the_line_end_at_its_ends(ratio):
    line = odds_line(ratio, low=ratio, high=ratio)
    assert line.mark == (EDGE_PERCENT if ratio < 1 else 100 - EDGE_PERCENT)


def test_end_that_does_not_exist_reaches_the_edge():
    line = odds_line(2.0, low=math.nan, high=math.nan)
    assert (line.low, line.high) == (EDGE_PERCENT, 100 - EDGE_PERCENT)


def test_no_line_of_no_odds():
    assert odds_line(math.nan, low=math.nan, high=math.nan) is None


@pytest.mark.parametrize(("share", "at"), [(0.0, 3.0), (0.5, 50.0), (1.0, 97.0)])
def test_half_of_all_pairs_is_even(share, at):
    line = share_line(share)
    assert line.mark == line.low == line.high == pytest.approx(at)
