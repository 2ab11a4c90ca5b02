"""EULUMDAT text: its planes, opening, lamps, and a broken file told in one sentence."""

import pytest

from apps.photics.photometry.distribution import Opening
from apps.photics.photometry.ldt import read_ldt
from apps.photics.photometry.reading import read_photometry
from apps.photics.photometry.text import PhotometryError
from tests.photics.photometric_files import ldt_text, lobe, oblong


@pytest.mark.parametrize(("symmetry", "planes"), [(2, 5), (3, 6), (4, 22)])
def test_planes_that_fit_no_eulumdat_symmetry_are_refused(symmetry, planes):
    with pytest.raises(PhotometryError, match=f"{planes} C planes do not fit symmetry {symmetry}"):
        read_ldt(ldt_text(lobe, symmetry=symmetry, planes=planes))


@pytest.mark.parametrize("decimal", [".", ","])
def test_eulumdat_may_use_either_decimal_sign(decimal):
    found = read_ldt(ldt_text(lobe, symmetry=1, planes=24, decimal=decimal))
    assert found.peak_candela == pytest.approx(1000) and found.watts == 25.5


def test_eulumdat_tells_its_opening_in_the_frame_of_its_planes():
    # The luminaire's length lies across the C0 plane.
    found = read_ldt(ldt_text(lobe, symmetry=1, planes=1)).opening
    assert found == Opening(30, 60, 0, "rectangle")


def test_round_eulumdat_fixture():
    found = read_ldt(ldt_text(lobe, symmetry=1, planes=1, area=("120", "0"))).opening
    assert found == Opening(12, 12, 0, "round")


def test_eulumdat_factor_counts_and_its_absence_does_not():
    peaks = [
        read_ldt(ldt_text(lobe, symmetry=1, planes=1, factor=f)).peak_candela
        for f in ("0.5", "0", "")
    ]
    assert peaks == pytest.approx([500, 1000, 1000])


def test_eulumdat_without_lumens_is_a_shape():
    found = read_ldt(ldt_text(lobe, symmetry=1, planes=1, lumens=""))
    assert found.lamp_lumens == 1000 and "1,000 lm" in found.notes[0]


def test_first_of_several_lamp_sets_is_taken_and_noted():
    found = read_ldt(ldt_text(lobe, symmetry=1, planes=1, sets=3))
    assert found.lamp_lumens == 2000 and " 3 lamp sets" in found.notes[0]


def changed_line(at, text):
    def change(whole):
        lines = whole.split("\n")
        lines[at - 1] = text
        return "\n".join(lines)

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (changed_line(3, "7"), "Line 3: “7” for the symmetry"),
        (changed_line(4, ""), "Line 4: the number of C planes is missing"),
        (changed_line(4, "22"), "Line 65: 330 for gamma angles"),
        (changed_line(6, "1"), "Line 6: “1” for the number of intensities"),
        (changed_line(6, "x"), "Line 6: “x” is not a number"),
        (changed_line(16, "-5"), "Line 16: a luminous opening of -0.5 cm"),
        (changed_line(24, "-1"), "Line 24: the factors"),
        (changed_line(26, "0"), "Line 26: “0” for the number of lamp sets"),
        (changed_line(29, "-10"), "Line 29: -10 lm or W"),
        (changed_line(43, "400"), "400 for C planes is not from 0 to 360"),
        (lambda t: "\n".join(t.split("\n")[:20]), "Line 20: the file ends before line 26"),
        (lambda t: "\n".join(t.split("\n")[:28]), "Line 28: the file ends within its 1 lamp sets"),
        (lambda t: "\n".join(t.split("\n")[:100]), "Line 100: the file ends after"),
    ],
)
def test_broken_eulumdat_gets_one_clear_sentence(change, said):
    with pytest.raises(PhotometryError, match=said):
        read_photometry(change(ldt_text(oblong, symmetry=4, planes=24)))
