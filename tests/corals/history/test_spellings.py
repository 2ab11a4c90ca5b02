"""Keepers' spellings of signs and conditions: known, or left to be asked."""

import pytest

from apps.corals.history.spellings import is_short, read_condition, read_signs
from apps.corals.models import HealthNote

Seen, Where, Strength = HealthNote.Seen, HealthNote.Where, HealthNote.Strength


@pytest.mark.parametrize(
    ("text", "signs"),
    [
        ("rtn", [Seen.TISSUE_LOSS]),
        ("STN", [Seen.TISSUE_LOSS]),
        ("bleached", [Seen.BLEACHING]),
        ("browned out", [Seen.BROWNING]),
        ("Pale", [Seen.PALING]),
        ("good", [Seen.WELL]),
        ("no PE", [Seen.POLYPS_IN]),
        ("better colour", [Seen.COLOUR_GAIN]),
        ("new growth", [Seen.GROWTH]),
        ("paling; polyps in", [Seen.PALING, Seen.POLYPS_IN]),
        ("looks good, growing", [Seen.GROWTH]),
    ],
)
def test_usual_spellings_are_known_whole(text, signs):
    result = read_signs(text)
    assert list(result.signs) == signs and result.is_whole


def test_strength_and_place_are_read_with_a_sign():
    result = read_signs("Slightly bleached at the tips")
    assert (result.strength, result.where) == (Strength.SLIGHT, Where.TIPS) and result.is_whole


@pytest.mark.parametrize(
    "text",
    ["no bleaching", "not pale any more", "stopped browning", "zapped", "white", "not good", "4"],
)
def test_what_says_no_sign_or_an_unknown_one_is_none(text):
    assert read_signs(text).signs == ()


def test_words_that_mean_much_count_only_alone():
    assert read_signs("brown").signs == (Seen.BROWNING,)
    assert read_signs("moved to a good spot beside the brown rock").signs == ()


def test_a_sign_within_a_sentence_counts_and_the_rest_is_left_over():
    result = read_signs("a frag of it bleached overnight after the heater failed")
    assert result.signs == (Seen.BLEACHING,) and not result.is_whole


def test_a_spelling_the_keeper_explained_is_known():
    result = read_signs("Zapped!", also={"zapped": Seen.PALING})
    assert result.signs == (Seen.PALING,) and result.is_whole


def test_conditions_by_word_and_not_by_number():
    assert read_condition("Good") == HealthNote.Condition.GOOD
    assert read_condition("5") is None
    assert read_condition("5", also={"5": 2}) == 2


@pytest.mark.parametrize(
    ("text", "short"), [("zapped", True), ("a b c d", True), ("a b c d e", False), ("", False)]
)
def test_a_spelling_is_a_few_words(text, short):
    assert is_short(text) is short
