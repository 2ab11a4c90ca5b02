"""Spectra against exact constants and the CIE illuminants."""

import csv
import doctest

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.photics.day import spectrum as module
from apps.photics.day.spectrum import (
    WAVELENGTH_NM,
    Channel,
    Spectrum,
    chromaticity,
    gaussian,
    mixed,
    planck,
    umol_per_joule,
    white,
)
from tests.paths import DATA

CHECKS = DATA / "checks"


def illuminants():
    """Factors of CIE illuminants, computed once by an independent program (colour-science)."""
    with (CHECKS / "photon_factors_cie_illuminants.csv").open() as rows:
        return {
            row["illuminant"]: (
                float(row["umol_per_J_400_700"]),
                float(row["lux_per_umol_m2_s"]),
            )
            for row in csv.DictReader(rows)
        }


# wavelength / 119.6265656 J nm per umol: N_A h c with the exact constants of the SI.
@pytest.mark.parametrize(
    ("nm", "expected"),
    [
        (400, 3.34374),
        (450, 3.76171),
        (470, 3.92889),
        (500, 4.17967),
        (660, 5.51717),
        (700, 5.85154),
    ],
)
def test_photons_of_a_joule(nm, expected):
    assert umol_per_joule(nm) == pytest.approx(expected, abs=5e-6)


def test_even_spectrum_gives_the_exact_factor():
    flat = Spectrum(np.ones_like(WAVELENGTH_NM))
    assert flat.umol_per_joule == pytest.approx(4.597640976, rel=1e-9)
    assert flat.lux_per_umol == pytest.approx(illuminants()["E"][1], rel=5e-4)


def test_illuminant_a_by_plancks_law():
    # CIE illuminant A is a black body of 2856 K (2848 K with the constants of 1931, hence 2855.5).
    found, (per_joule, lux) = Spectrum(planck(2855.5)), illuminants()["A"]
    assert found.umol_per_joule == pytest.approx(per_joule, rel=2e-4)
    assert found.lux_per_umol == pytest.approx(lux, rel=5e-4)


def test_pure_blue_gives_hardly_any_lux():
    # V(450 nm) = 0.038: 683 x 0.038 / 3.762 = 6.9 lux for one umol.
    assert Spectrum(gaussian(450, width_nm=5)).lux_per_umol == pytest.approx(6.9, rel=0.01)


# Colour temperatures of the phosphor LED illuminants: CIE 015:2018. The model's width
# was chosen on these five, so this holds the model to its stated error, no more.
@pytest.mark.parametrize(("name", "kelvin"), [("LED-B1", 2733), ("LED-B3", 4103), ("LED-B5", 6598)])
def test_white_is_near_the_cie_led_of_its_colour(name, kelvin):
    found, (per_joule, lux) = white(kelvin), illuminants()[name]
    assert found.umol_per_joule == pytest.approx(per_joule, rel=0.01)
    assert found.lux_per_umol == pytest.approx(lux, rel=0.03)


# Photon shares of the same illuminants, computed by an independent program (colour-science).
@pytest.mark.parametrize(
    ("kelvin", "expected"),
    [
        (2733, (0.0922, 0.4043, 0.5036)),
        (4103, (0.1844, 0.4473, 0.3683)),
        (6598, (0.2909, 0.4595, 0.2496)),
    ],
)
def test_white_shares_its_photons_as_the_cie_led_does(kelvin, expected):
    np.testing.assert_allclose(white(kelvin).proportions, expected, atol=0.021)


@pytest.mark.parametrize("kelvin", [2000, 3000, 6500, 10_000, 20_000, 30_000])
def test_white_has_the_colour_of_its_temperature(kelvin):
    found = white(kelvin)
    np.testing.assert_allclose(chromaticity(found.power), chromaticity(planck(kelvin)), atol=1e-8)


def test_cooler_white_holds_more_blue():
    blues = [white(kelvin).proportions.blue for kelvin in (3000, 5000, 8000, 14_000, 25_000)]
    assert blues == sorted(blues)


def test_colour_of_known_lights():
    # CIE 015: illuminant E is x = y = 1/3, illuminant A is 0.4476, 0.4074. The Gaussian colour
    # matching is good to a few thousandths.
    np.testing.assert_allclose(chromaticity(np.ones_like(WAVELENGTH_NM)), [1 / 3] * 2, atol=0.003)
    np.testing.assert_allclose(chromaticity(planck(2855.5)), [0.4476, 0.4074], atol=0.003)


def test_every_channel_is_marked_approximate():
    assert Channel("blue", peak_nm=455).spectrum.approximate
    assert Channel("white", white_kelvin=6500).spectrum.approximate


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.floats(390, 710),
    st.floats(5, 200),
    st.floats(0, 1),
)
def test_shares_of_any_mix_are_whole(peak, width, part):
    channels = [Channel("a", peak_nm=peak, width_nm=width), Channel("b", white_kelvin=10_000)]
    found = mixed(channels, [part, 1.0])
    assert sum(found.proportions) == pytest.approx(1, rel=1e-12) and min(found.proportions) >= 0
    assert found.par_umol == pytest.approx(part + 1, rel=1e-12)


def test_mix_shares_photons_by_par_not_by_power():
    blue, red = Channel("blue", peak_nm=450), Channel("red", peak_nm=660)
    found = mixed([blue, red], [1, 1])
    assert found.proportions.blue == pytest.approx(0.5, abs=1e-3)
    # Equal photons: the harmonic mean of the photons per joule of the two.
    parts = blue.spectrum.umol_per_joule, red.spectrum.umol_per_joule
    assert found.umol_per_joule == pytest.approx(2 / (1 / parts[0] + 1 / parts[1]), rel=1e-12)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({}, "either a peak"),
        ({"peak_nm": 450, "white_kelvin": 6500}, "either a peak"),
        ({"peak_nm": 4500}, "390 to 710, not 4500"),
        ({"white_kelvin": 100}, "2000 to 30000, not 100"),
        ({"peak_nm": 450, "width_nm": 0}, "5 to 200, not 0"),
        ({"peak_nm": float("nan")}, "not nan"),
    ],
)
def test_channel_that_cannot_be_is_refused(told, said):
    with pytest.raises(ValueError, match=said):
        Channel("odd", **told)


@pytest.mark.parametrize("parts", [[0.0], [-1.0]])
def test_mix_of_nothing_is_refused(parts):
    with pytest.raises(ValueError, match="at least one channel that is on"):
        mixed([Channel("blue", peak_nm=450)], parts)


def test_green_channel_is_wider_where_nothing_is_told():
    blue, green = (Channel("c", peak_nm=nm).spectrum.power for nm in (450, 525))
    widths = [np.sum(power > power.max() / 2) for power in (blue, green)]
    assert widths[1] > widths[0]


def test_docstring_examples():
    assert doctest.testmod(module).failed == 0
