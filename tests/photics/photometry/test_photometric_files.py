"""Photometric text in every form, whole, broken and hostile; and our own export."""

import doctest
import re
import time

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from apps.photics import limits
from apps.photics.photometry import writing
from apps.photics.photometry.distribution import Opening, Photometry
from apps.photics.photometry.ies import read_ies
from apps.photics.photometry.reading import read_photometry
from apps.photics.photometry.text import PhotometryError
from apps.photics.photometry.writing import write_ies
from tests.photics.photometric_beams import beam_deg, per_sr
from tests.photics.photometric_files import LAMBERTIAN, ies_text, ldt_text, lobe, lopsided, oblong

TILT_TABLE = "1\n3\n0 45 90\n1 0.95 0.9"


@pytest.mark.parametrize(
    ("edition", "year"),
    [
        (None, 1986),
        ("IESNA91", 1991),
        ("IESNA:LM-63-1995", 1995),
        ("IESNA:LM-63-2002", 2002),
        ("IES:LM-63-2019", 2019),
        ("  iesna:lm-63-2002  ", 2002),
    ],
)
def test_every_edition_is_known_by_its_first_line(edition, year):
    found = read_ies(ies_text(lobe, edition=edition))
    assert (found.source, found.peak_candela) == (f"LM-63-{year}", 1000)


def test_edition_of_the_future_is_read_and_noted():
    found = read_ies(ies_text(lobe, edition="IES:LM-63-2041"))
    assert "LM-63-2041" in found.notes[0]


# The factor after the ballast factor counted until 1991 and then meant other things.
@pytest.mark.parametrize(
    ("edition", "peak"),
    [(None, 480), ("IESNA91", 480), ("IESNA:LM-63-1995", 800), ("IES:LM-63-2019", 800)],
)
def test_second_factor_counts_in_old_editions_only(edition, peak):
    found = read_ies(ies_text(lobe, edition=edition, factors="0.8 0.6 25"))
    assert found.peak_candela == pytest.approx(peak)


def test_multiplier_and_ballast_factor_count():
    found = read_ies(ies_text(lobe, lamps="2 1500 2.5", factors="0.9 1 25"))
    assert found.peak_candela == pytest.approx(2250)
    assert (found.lamp_lumens, found.watts) == (3000, 25)


def test_absolute_photometry_has_no_lamp_lumens():
    assert read_ies(ies_text(lobe, lamps="1 -1 1")).lamp_lumens is None


def test_keywords_are_kept_with_their_continuations():
    lines = ("[test] T1", "[LUMINAIRE] a panel", "[MORE] with two rows", "[_OWN]", "[MORE] more")
    found = read_ies(ies_text(lobe, keywords=lines))
    assert found.keywords == (
        ("TEST", "T1"),
        ("LUMINAIRE", "a panel\nwith two rows"),
        ("_OWN", "\nmore"),
    )


def test_label_lines_of_the_first_edition_are_kept():
    found = read_ies(ies_text(lobe, edition=None, keywords=("A lamp", "[odd", "its maker")))
    assert [text for _, text in found.keywords] == ["A lamp", "[odd", "its maker"]


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace(" ", ","),
        lambda text: text.replace(" ", ", "),
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: text.replace(" ", "\t"),
        lambda text: "\ufeff" + text + "\x1a",
    ],
)
def test_numbers_may_stand_apart_in_any_way(change):
    text = ies_text(lobe, keywords=())
    head, _, body = text.partition("TILT=NONE\n")
    found = read_ies(change(head + "TILT=NONE\n" + body))
    np.testing.assert_array_equal(found.candela, read_ies(text).candela)


def test_one_number_a_line_is_read():
    head, _, body = ies_text(lobe).partition("TILT=NONE\n")
    found = read_ies(head + "TILT=NONE\n" + "\n".join(body.split()))
    assert found.flux_lm == read_ies(ies_text(lobe)).flux_lm


def test_tilt_table_in_the_file_is_read():
    found = read_ies(ies_text(lobe, tilt=f"TILT=INCLUDE\n{TILT_TABLE}"))
    assert found.tilt == (1, (0.0, 45.0, 90.0), (1.0, 0.95, 0.9))
    assert found.peak_candela == 1000


def test_tilt_table_in_another_file_must_come_along():
    text = ies_text(lobe, tilt="TILT=lamp.tlt")
    with pytest.raises(PhotometryError, match=r"Line 4: .*“lamp.tlt”; bring that one too"):
        read_ies(text)
    assert read_ies(text, tilt_text=TILT_TABLE).tilt.geometry == 1


@pytest.mark.parametrize("table", ["", "1 2 0", "7 1 0 1"])
def test_broken_tilt_file_is_told_apart(table):
    with pytest.raises(PhotometryError, match=r"Line 4: in the tilt file “lamp.tlt”"):
        read_ies(ies_text(lobe, tilt="TILT=lamp.tlt"), tilt_text=table)


@pytest.mark.parametrize(
    ("unit", "sizes", "expected"),
    [
        (2, "0 0 0", Opening(0, 0, 0, "point")),
        (2, "0.3 0.6 0.1", Opening(60, 30, 10, "rectangle")),
        (1, "1 2 0", Opening(60.96, 30.48, 0, "rectangle")),
        (2, "-0.12 0 0", Opening(12, 12, 0, "round")),
        (2, "-0.12 -0.12 0.02", Opening(12, 12, 2, "round")),
        (2, "-0.12 0 -0.12", Opening(12, 12, 12, "round")),
        (2, "0 1.2 -0.026", Opening(120, 2.6, 2.6, "round")),
        (2, "1.2 0 -0.026", Opening(2.6, 120, 2.6, "round")),
        (2, "-0.3 0.6 0", Opening(60, 30, 0, "round")),
    ],
)
def test_luminous_opening_in_all_its_shapes(unit, sizes, expected):
    found = read_ies(ies_text(lobe, unit=unit, sizes=sizes)).opening
    assert found[:3] == pytest.approx(expected[:3]) and found.shape == expected.shape


def test_circle_left_open_is_closed_and_noted():
    found = read_ies(ies_text(lopsided, horizontal=tuple(range(0, 360, 30))))
    assert found.horizontal_deg[-1] == 360 and "closes the circle" in found.notes[0]
    assert found.intensity(20, turn_deg=360) == found.intensity(20, turn_deg=0)


def test_more_light_than_the_lamps_give_is_noted():
    (note,) = read_ies(ies_text(lobe)).notes
    assert re.findall(r"[\d,]*\d", note) == ["3,142", "1,000"]


def test_entries_after_the_end_are_noted():
    assert "2 entries after" in read_ies(ies_text(lobe) + "7 end").notes[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: "", "The file is empty"),
        (lambda t: t.replace("TILT=NONE\n", ""), "ends before a TILT= line"),
        (lambda t: t.replace("TILT=NONE", "TILT="), "Line 4: TILT= says neither"),
        (lambda t: t.replace("[TEST] made", "[TEST made"), "Line 2: a keyword needs"),
        (lambda t: t.replace("[TEST] made", "[MORE] made"), "Line 2: .MORE. has no line"),
        (lambda t: t.replace("1 1000 1 19 1", "1 1000 1 19.5 1"), "Line 5: .*vertical angles is"),
        (lambda t: t.replace("1 1000 1 19 1", "1 1000 1 900000 1"), "Line 5: .* whole number from"),
        (lambda t: t.replace("1 1000 1 19 1", "1 1000 1 19 -1"), "Line 5: .*horizontal angles is"),
        (lambda t: t.replace("1 1000 1 19 1", "1 1000 1 1400 1400"), "1400 x 1400 intensities"),
        (lambda t: t.replace("1 1000 1 19", "1 1000 0 19"), "Line 5: 0 for the candela multiplier"),
        (lambda t: t.replace("1 1000 1 19", "1 -3 1 19"), "Line 5: -3 for lumens per lamp"),
        (lambda t: t.replace("1 1000 1 19 1 1", "1 1000 1 19 1 4"), "photometric type is 4"),
        (lambda t: t.replace("2 0.3 0.6", "3 0.3 0.6"), "unit of lengths is 3"),
        (lambda t: t.replace("0.3 0.6", "0.3 900"), "90000 cm is not a fixture's"),
        (lambda t: t.replace("1 1 25", "1 1 nan"), "Line 6: “nan” is not a number for the input"),
        (lambda t: t.replace("1 1 25", "1 1 inf"), "Line 6: “inf” is not a number"),
        (lambda t: t.replace("1 1 25", "1 1 2_5"), "Line 6: “2_5” is not a number"),
        (lambda t: t.replace("1 1 25", "1 1 ٢٥"), "is not a number"),
        (lambda t: t.replace("1 1 25", "0 1 25"), "0 for the ballast factor"),
        (lambda t: t.replace("0 5 10", "0 5 5"), "Line 7: vertical angles must ascend; 5 comes"),
        (lambda t: t.replace("85 90\n0\n", "85 190\n0\n"), "190 for vertical angles is not from 0"),
        (lambda t: t.replace("1000.0 ", "-1 "), "Line 9: -1 for intensities"),
        (lambda t: t.replace("1000.0 ", "1e99 "), "Line 9: 1e.99 for intensities"),
        (lambda t: t.replace("1000.0 ", "x\x00\x1b[31m "), "“x..\\[31m” is not a number"),
        (lambda t: t[: t.index("766.0")], "the file ends after 8 of 19 values for intensities"),
        (lambda t: t[: t.index("25\n0 5")], "the file ends before the input watts"),
        (lambda t: t + " " * limits.PHOTOMETRY_CHARS_MAX, "longer than 2,000,000 characters"),
    ],
)
def test_broken_file_gets_one_clear_sentence(change, said):
    text = ies_text(lobe)
    assert change(text) != text
    with pytest.raises(PhotometryError, match=said) as refused:
        read_photometry(change(text))
    assert "\n" not in str(refused.value) and len(str(refused.value)) < 160


@pytest.mark.parametrize("horizontal", [(10,), (0, 100), (30, 60, 90), (90, 180)])
def test_planes_that_fit_no_symmetry_are_refused(horizontal):
    text = ies_text(oblong, horizontal=horizontal)
    if len(horizontal) == 1:
        assert read_ies(text).symmetry == 0  # one plane, whatever its name, goes all round
        return
    with pytest.raises(PhotometryError, match="0 alone, 0-90, 0-180, 90-270 or 0-360"):
        read_ies(text)


def test_file_without_light_is_refused():
    with pytest.raises(PhotometryError, match="no possible light"):
        read_ies(ies_text(None, values=[[0.0] * 19]))


def test_faintest_light_still_has_a_shape():
    found = read_ies(ies_text(None, values=[[1e-300] * 19]))
    assert per_sr(found, 10.0) == pytest.approx(1 / (2 * np.pi))


@pytest.mark.parametrize("text", ["hello", "a\nb\nc\nd", "1;2;3\n4;5;6\n7;8;9"])
def test_other_text_is_told_to_be_neither(text):
    with pytest.raises(PhotometryError, match="neither an LM-63"):
        read_photometry(text)


def test_reader_knows_the_formats_apart():
    assert read_photometry(LAMBERTIAN.read_text()).source == "LM-63-2002"
    assert read_photometry(ldt_text(lobe, symmetry=1, planes=1)).source == "EULUMDAT"


FIELDS = ("kind", "lamp_lumens", "watts", "keywords", "tilt")


@pytest.mark.parametrize(
    "text",
    [
        LAMBERTIAN.read_text(),
        ies_text(lopsided, horizontal=tuple(range(0, 361, 30)), lamps="1 -1 1.7"),
        ies_text(oblong, horizontal=tuple(range(90, 271, 30)), sizes="-0.3 0.6 0.1"),
        ies_text(lobe, tilt=f"TILT=INCLUDE\n{TILT_TABLE}", sizes="0 1.2 -0.026"),
        ies_text(
            None,
            kind=3,
            vertical=(-90, 0, 90),
            horizontal=(0, 45, 90),
            values=[[0, 3, 0], [0, 1 / 3, 0], [0, 0, 0]],
        ),
        ldt_text(lopsided, symmetry=0, planes=8),
        ldt_text(lambda g, c: lobe(g) * (1.5 + np.sin(np.radians(c))), symmetry=3, planes=8),
    ],
)
def test_export_reads_back_as_the_same_light(text):
    first = read_photometry(text)
    again = read_photometry(write_ies(first))
    for name in ("vertical_deg", "horizontal_deg", "candela"):
        np.testing.assert_array_equal(getattr(again, name), getattr(first, name))
    told = dict(first.keywords)
    kept = tuple(pair for pair in again.keywords if pair[0] in told)
    assert kept == first.keywords
    assert [getattr(again, n) for n in FIELDS if n != "keywords"] == [
        getattr(first, n) for n in FIELDS if n != "keywords"
    ]
    assert again.opening[:3] == pytest.approx(first.opening[:3])
    assert again.opening.shape == first.opening.shape


def test_export_holds_to_the_format_whatever_the_keywords_say():
    found = read_ies(
        ies_text(lobe, keywords=("[LUMINAIRE] " + "ü" * 400, "[A[B] TILT=NONE", "loose"))
    )
    lines = write_ies(found).split("\n")
    assert all(line.isascii() and len(line) <= 256 for line in lines)
    assert {"[TEST] none", "[TESTLAB] none", "[MANUFAC] none"} <= set(lines)
    assert read_ies(write_ies(found)).flux_lm == found.flux_lm


WORDS = st.one_of(
    st.text(max_size=12),
    st.integers(-5, 400).map(str),
    st.floats(width=32).map(str),
    st.sampled_from(["TILT=NONE", "TILT=INCLUDE", "[TEST] x", "[MORE]", "IESNA:LM-63-2002", ","]),
)


def readable_or_refused(text):
    """Any text ends in a sound object or in one short sentence."""
    try:
        found = read_photometry(text)
    except PhotometryError as error:
        assert str(error) and "\n" not in str(error) and len(str(error)) < 300
        return
    assert isinstance(found, Photometry) and found.flux_lm > 0
    assert np.isfinite(per_sr(found, 30.0, 200.0))
    assert beam_deg(found) is None or 0 <= beam_deg(found) <= 180
    assert read_photometry(write_ies(found)).flux_lm == pytest.approx(found.flux_lm)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(WORDS, max_size=60), st.sampled_from(["\n", " ", "\r\n"]))
@example(["IESNA91", "TILT=NONE"], "\n")
def test_any_text_is_read_or_refused(words, between):
    readable_or_refused(between.join(words))


WHOLE = [
    ies_text(lopsided, vertical=(0, 45, 90), horizontal=(0, 90, 180, 270, 360)),
    ies_text(oblong, vertical=(0, 45, 90), horizontal=(0, 90), tilt=f"TILT=INCLUDE\n{TILT_TABLE}"),
    ldt_text(oblong, symmetry=4, planes=8, step_deg=45),
]


@settings(max_examples=250, deadline=None, derandomize=True)
@given(st.sampled_from(WHOLE), st.data())
def test_damaged_files_are_read_or_refused(text, data):
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 40)))
    patch = data.draw(
        st.one_of(st.text(max_size=6), st.sampled_from(["1e9", "1e-300", "-0", "90", "\n\n"]))
    )
    readable_or_refused(text[:start] + patch + text[end:])


def test_largest_file_is_read_in_time():
    vertical = np.linspace(0, 90, 500)
    horizontal = np.linspace(0, 360, 600)
    values = np.full((600, 500), 5.0)
    text = ies_text(None, vertical=tuple(vertical), horizontal=tuple(horizontal), values=values)
    begun = time.perf_counter()
    found = read_ies(text)
    # A bound against runaway cost, ten times what it took here on a slow machine.
    assert found.candela.shape == (600, 500) and time.perf_counter() - begun < 5


def test_docstring_examples():
    assert doctest.testmod(writing).failed == 0


# Files as makers give them.


def fourfold(nadir_deg, turn_deg):
    """A lobe alike in each eighth of the circle [cd]."""
    return lobe(nadir_deg, exponent=3 + np.cos(np.radians(4 * turn_deg)))


def test_planes_of_an_eighth_are_mirrored_to_the_circle():
    eighth = read_ies(ies_text(fourfold, horizontal=(0, 15, 30, 45)))
    whole = read_ies(ies_text(fourfold, horizontal=tuple(range(0, 361, 15))))
    turns = np.arange(0, 360, 5)
    np.testing.assert_allclose(
        eighth.intensity(40, turn_deg=turns), whole.intensity(40, turn_deg=turns), rtol=1e-9
    )
    assert eighth.flux_lm == pytest.approx(whole.flux_lm, rel=1e-9) and eighth.notes


def test_planes_from_minus_90_to_90_are_mirrored_about_that_plane():
    def ahead(nadir_deg, turn_deg):
        return lobe(nadir_deg) * (1 + 0.3 * np.cos(np.radians(turn_deg)))

    half = read_ies(ies_text(ahead, horizontal=(-90, -45, 0, 45, 90)))
    # Mirrored about 90-270: what shines to 180 is what shines to 0.
    for turn in (0, 45, 90, 135, 180, 270, 315):
        seen = turn if turn <= 90 or turn >= 270 else 180 - turn
        assert half.intensity(30, turn_deg=turn) == pytest.approx(ahead(30, seen), rel=1e-9)


def test_one_intensity_just_below_zero_is_taken_as_0_and_noted_by_its_line():
    values = [[1000, 500, 20, -2]]
    photometry = read_ies(ies_text(None, vertical=(0, 45, 80, 90), values=values))
    assert photometry.candela.min() == 0
    assert any("Line 9" in note and "-2 cd" in note for note in photometry.notes)


@pytest.mark.parametrize(("value", "is_read"), [(-10, True), (-10.1, False)])
def test_an_intensity_further_below_zero_is_refused_by_its_line(value, is_read):
    text = ies_text(None, vertical=(0, 45, 80, 90), values=[[1000, 500, 20, value]])
    if is_read:
        assert read_ies(text).notes
        return
    with pytest.raises(PhotometryError, match=r"Line 9: -10\.1"):
        read_ies(text)


@pytest.mark.parametrize(("beside", "is_read"), [(50, True), (50.1, False)])
def test_an_intensity_below_zero_within_the_light_is_refused(beside, is_read):
    text = ies_text(None, vertical=(0, 45, 80, 90), values=[[1000, 500, beside, -2]])
    if is_read:
        assert read_ies(text).notes
        return
    with pytest.raises(PhotometryError, match="Line 9: -2"):
        read_ies(text)


def test_decimal_commas_are_read_as_points_and_noted():
    text = ies_text(lobe, vertical=(0, 22.5, 45, 67.5, 90))
    head, tilt, body = text.partition("TILT=NONE\n")
    commas = read_ies(head + tilt + body.replace(".", ","))
    np.testing.assert_array_equal(commas.candela, read_ies(text).candela)
    assert any("commas" in note for note in commas.notes)


def test_commas_that_part_numbers_still_do():
    text = ies_text(None, vertical=(0, 45, 90), values=[[1000, 500, 0]], sizes="1 1 0")
    head, tilt, body = text.partition("TILT=NONE\n")
    parted = head + tilt + body.replace(".0", "").replace(" ", ",")
    np.testing.assert_array_equal(read_ies(parted).candela, [[1000, 500, 0]])
