"""A factor is read the way people say it, and told the way they would."""

import pytest
from django.core.exceptions import ValidationError

from apps.common.numbers import UnreadableNumber
from apps.lighting.change.factor import FactorField, factor_words, parse_factor


@pytest.mark.parametrize(
    ("typed", "factor"),
    [
        ("0.8", 0.8),
        ("0,8", 0.8),
        ("-20 %", 0.8),
        ("−20%", 0.8),
        ("20 % less", 0.8),
        ("80 %", 0.8),
        ("80 % of before", 0.8),
        ("+25%", 1.25),
        ("25 percent more", 1.25),
        ("x0.8", 0.8),
        ("× 2", 2.0),
        ("12,5 %", 0.125),
        (" 1 ", 1.0),
    ],
)
def test_factor_is_understood(typed, factor):
    assert parse_factor(typed) == pytest.approx(factor)


@pytest.mark.parametrize("typed", ["less", "-20", "0.8.1", "-20 % less", "", "%", "1e400", "nan"])
def test_factor_that_means_nothing_is_refused(typed):
    with pytest.raises(UnreadableNumber):
        parse_factor(typed)


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (0.8, "a fifth less"),
        (1.0, "unchanged"),
        (1.25, "a quarter more"),
        (0.35, "65\u00a0% less"),
        (1.35, "35\u00a0% more"),
        (2.4, "2.4 times as much"),
        (0.667, "a third less"),
    ],
)
def test_factor_in_words(factor, words):
    assert factor_words(factor) == words


@pytest.mark.parametrize("typed", ["-100 %", "-120 %", "0"])
def test_no_light_at_all_is_refused_with_a_way_out(typed):
    with pytest.raises(ValidationError, match="no light at all"):
        FactorField().clean(typed)


def test_percent_without_its_sign_is_asked_back():
    with pytest.raises(ValidationError, match="write 80 %"):
        FactorField().clean("80")
