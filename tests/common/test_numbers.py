"""Reading numbers as people type them: any text gives a number or a sentence, never a crash."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number, whole_number
from apps.common.units import format_length, parse_length_cm
from apps.photics.ground.lengths import CM, INCH, UNIT_WORDS

lengths_cm = st.floats(min_value=0, max_value=1000)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("12", 12), ("12.5", 12.5), ("12,5", 12.5), (" 12 ", 12), (",5", 0.5), ("5.", 5),
        ("−3", -3), ("+3", 3), ("1e2", 100), ("1200", 1200), ("0,120", 0.12), ("12\u00a0", 12),
    ],
)  # fmt: skip
def test_number_is_read_as_meant(typed, meant):
    assert parse_number(typed) == meant


@pytest.mark.parametrize("typed", ["1 200 par", "1'200 par", "1 200 ppm", "1\u202f200par"])
def test_thousands_may_be_parted_before_a_word(typed):
    assert parse_number(typed, words=(*PAR_WORDS, "ppm")) == 1200


@pytest.mark.parametrize("typed", ["120 par", "120par", "120 PPFD", "120 µmol/m²/s"])
def test_known_words_may_follow(typed):
    assert parse_number(typed, words=PAR_WORDS) == 120


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("", "Write a number"),
        ("bright", "is not a number"),
        ("120 lux", "Leave out “lux”"),
        ("1,200", "can mean 1200 or 1.2"),
        ("1.2.3", "is not a number"),
        ("nan", "is not a number"),
        ("inf", "is not a number"),
        ("1e999", "too large"),
        ("12 5", "is not a number"),
        ("9" * 400, "too large"),
    ],
)
def test_unreadable_number_is_refused_with_a_reason(typed, message):
    with pytest.raises(UnreadableNumber, match=message):
        parse_number(typed)


@given(st.text())
@example("٣")
@example("1e99999999999")
@example("\x00")
def test_any_text_gives_a_finite_number_or_a_sentence(text):
    try:
        assert math.isfinite(parse_number(text, words=PAR_WORDS))
    except UnreadableNumber as problem:
        assert str(problem)


@given(st.text(), st.sampled_from([CM, INCH]))
@example("12 m in", CM)
@example('"', INCH)
@example("1e308 m", CM)
def test_any_text_gives_a_finite_length_or_a_sentence(text, unit):
    try:
        assert math.isfinite(parse_length_cm(text, unit))
    except UnreadableNumber as problem:
        assert str(problem)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_written_out_is_read_back(value):
    assert parse_number(repr(value)) == value


@given(lengths_cm, st.sampled_from([CM, INCH]))
def test_a_shown_length_is_read_back_to_its_last_shown_place(value_cm, unit):
    back = parse_length_cm(format_length(value_cm, unit), unit)
    # Shown to 0.1 of the unit: half of that is lost, and 0.005 cm more where inches are rounded.
    assert abs(back - value_cm) <= 0.05 * UNIT_WORDS[unit] + 0.005 + 1e-9


@given(lengths_cm, st.sampled_from([CM, INCH]))
def test_showing_and_reading_again_changes_nothing_more(value_cm, unit):
    shown = format_length(value_cm, unit)
    assert format_length(parse_length_cm(shown, unit), unit) == shown


@pytest.mark.parametrize(
    ("typed", "unit", "length_cm"),
    [
        ("24", CM, 24), ("24", INCH, 60.96), ("24 in", CM, 60.96), ("60 cm", INCH, 60),
        ('24"', CM, 60.96), ("600 mm", INCH, 60), ("0,6 m", CM, 60), ("24 Inches", CM, 60.96),
    ],
)  # fmt: skip
def test_a_written_unit_wins(typed, unit, length_cm):
    assert parse_length_cm(typed, unit) == pytest.approx(length_cm)


@pytest.mark.parametrize("typed", ["24 ft", "cm", "in 24", "12 cm cm"])
def test_an_unknown_unit_is_refused(typed):
    with pytest.raises(UnreadableNumber):
        parse_length_cm(typed, CM)


def test_no_length_shows_nothing():
    assert format_length(None, CM) == ""


@pytest.mark.parametrize(
    ("typed", "unit", "length_cm"),
    [
        ("18 1/2", INCH, 46.99), ("18-1/2", INCH, 46.99), ("18½", INCH, 46.99), ("3/4", INCH, 1.91),
        ('18 1/2"', CM, 46.99), ("18 ½ in", CM, 46.99), ("7 1/2", CM, 7.5),
    ],
)  # fmt: skip
def test_a_fraction_is_read_as_on_a_tape(typed, unit, length_cm):
    assert parse_length_cm(typed, unit) == length_cm


@pytest.mark.parametrize("typed", ["18 1/0", "1/2/3", "18 1/2 1/2", "½½", "18.5 1/2"])
def test_what_is_no_fraction_of_a_tape_is_refused(typed):
    with pytest.raises(UnreadableNumber):
        parse_length_cm(typed, INCH)


INCH_PARTS = [2, 4, 8, 16, 32]


@pytest.mark.parametrize("typed", ["11 3/4", "9 3/4", "1/8", "5/16", "20 31/32", "18 1/2", "24"])
def test_a_fraction_is_shown_as_typed(typed):
    assert format_length(parse_length_cm(typed, INCH), INCH) == typed


@given(st.integers(0, 300), st.sampled_from(INCH_PARTS), st.data())
def test_any_fraction_of_a_tape_survives_saves(whole, parts, data):
    typed_cm = stored_cm = parse_length_cm(
        f"{whole} {data.draw(st.integers(0, parts))}/{parts}", INCH
    )
    for _ in range(5):
        stored_cm = parse_length_cm(format_length(stored_cm, INCH), INCH)
    assert stored_cm == typed_cm


@pytest.mark.parametrize(
    ("length_cm", "shown"),
    [
        (60, "23 5/8"),
        (50, "19.7"),
        (33.27, "13.1"),
        (29.72, "11.7"),
        (30, "11 13/16"),
        (0, "0"),
    ],
)
def test_other_inches_are_tenths_or_eighths_by_what_is_nearer(length_cm, shown):
    assert format_length(length_cm, INCH) == shown


@given(lengths_cm)
def test_shown_inches_are_never_farther_off_than_a_tenth(value_cm):
    assert (
        abs(parse_length_cm(format_length(value_cm, INCH), INCH) - value_cm) <= 0.05 * 2.54 + 0.006
    )


def test_a_slider_gets_decimals():
    assert format_length(parse_length_cm("11 3/4", INCH), INCH, places=1) == "11.7"


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0", 0), ("12", 12), ("007", 7), ("999999999", 999_999_999),
        ("", None), ("-1", None), ("1.0", None), ("1e3", None), (" 1", None),
        # Digits to Unicode, of which Python reads the second and not the first.
        ("²", None), ("٣", None),
        # Python itself raises ValueError for more than 4,300.
        ("9" * 5000, None), ("9999999999", None),
    ],
)  # fmt: skip
def test_a_whole_number_is_plain_digits_and_not_too_many(text, number):
    assert whole_number(text) == number


def test_a_whole_number_may_be_held_to_fewer_digits():
    assert whole_number("99", digits_max=2) == 99 and whole_number("100", digits_max=2) is None
