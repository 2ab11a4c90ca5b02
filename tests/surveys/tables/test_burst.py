"""A PAR cell with two numbers: the ends of a flicker, or a middle and its spread."""

import math

import pytest

from apps.common.numbers import UnreadableNumber
from apps.surveys.tables.burst import parse_burst


@pytest.mark.parametrize("cell", ["200-220", "220 – 200", "200 to 220 PAR", "200…220", "200..220"])
def test_two_ends_are_a_middle_and_the_spread_of_a_sine(cell):
    assert parse_burst(cell) == (210.0, pytest.approx(20 / math.sqrt(8)))


@pytest.mark.parametrize("cell", ["212±5", "212 +/- 5", "212 ± 5 par"])
def test_a_middle_with_its_spread(cell):
    assert parse_burst(cell) == (212.0, 5.0)


def test_decimal_commas_are_read_at_both_ends():
    assert parse_burst("200,5-220,5")[0] == 210.5


@pytest.mark.parametrize("cell", ["8.0..8.2", "8.0...8.2", "8.0…8.2", "8.00 ... 8.20", "8....8.2"])
def test_points_between_two_ends_are_none_of_their_decimals(cell):
    assert parse_burst(cell)[0] == pytest.approx(8.1)


def test_a_plain_number_has_no_spread():
    assert parse_burst("212.5 umol") == (212.5, None)


@pytest.mark.parametrize("cell", ["-5", "200-", "200-bright", "±5", "1-2-3", "1,200-1,300", ""])
def test_what_is_neither_is_refused(cell):
    if cell == "-5":
        assert parse_burst(cell) == (-5.0, None)  # The reading's own bound refuses it.
        return
    with pytest.raises(UnreadableNumber):
        parse_burst(cell)
