"""What is computed from photometric files: flux, intensities, beams, both readers agreeing."""

import csv
import doctest
import math
from itertools import pairwise

import numpy as np
import pytest

from apps.photics.photometry import distribution as module
from apps.photics.photometry.ies import read_ies
from apps.photics.photometry.ldt import read_ldt
from tests.paths import DATA
from tests.photics.photometric_beams import beam_deg, equivalent_beam_deg, per_sr
from tests.photics.photometric_files import (
    LAMBERTIAN,
    ies_text,
    ldt_text,
    lobe,
    lopsided,
    oblong,
)

CHECKS = DATA / "checks"


@pytest.fixture(scope="module")
def lambertian():
    return read_ies(LAMBERTIAN.read_text())


def test_lambertian_file_gives_its_lumens(lambertian):
    assert lambertian.flux_lm == pytest.approx(1000, rel=1e-6)  # of the file's four decimals


# Read by an independent program (Radiance, ies2rad and rtrace) from the same file, 2 m below.
@pytest.mark.parametrize(("x", "lux"), [(0, 79.586), (0.5, 70.455), (1, 50.891), (2, 19.894)])
def test_lambertian_file_lights_a_floor_as_radiance_has_it(lambertian, x, lux):
    nadir = math.atan2(x, 2)
    found = lambertian.intensity(math.degrees(nadir)) * math.cos(nadir) ** 3 / 2**2
    assert found == pytest.approx(lux, rel=2e-4)  # Radiance's own rounding at x = 0 is 1.2e-4


def test_even_sphere_gives_four_pi():
    text = ies_text(None, vertical=(0, 30, 90, 180), values=[[100] * 4])
    assert read_ies(text).flux_lm == pytest.approx(1256.637, abs=5e-4)


def test_a_candela_in_a_zone_gives_the_published_zonal_constant():
    published = [0.0955, 0.2835, 0.4629, 0.6282, 0.7744, 0.8972, 0.9926, 1.0579, 1.0911]
    zones = pairwise(range(0, 91, 10))
    flux = [read_ies(ies_text(None, vertical=zone, values=[[1, 1]])).flux_lm for zone in zones]
    np.testing.assert_allclose(flux, published, atol=5e-5)


@pytest.mark.parametrize("step", [1, 2, 5, 10, 30])
def test_cosine_lobe_has_its_exact_flux_at_any_step(step):
    found = read_ies(ies_text(lobe, vertical=tuple(range(0, 91, step))))
    assert found.flux_lm == pytest.approx(1000 * math.pi, rel=1e-12)


@pytest.mark.parametrize(
    ("light", "horizontal"),
    [
        (lobe, (0,)),
        (oblong, tuple(range(0, 91, 15))),
        (oblong, tuple(range(0, 181, 15))),
        (oblong, tuple(range(90, 271, 15))),
        (lopsided, tuple(range(0, 361, 15))),
    ],
)
def test_symmetric_files_give_what_the_whole_circle_gives(light, horizontal):
    part = read_ies(ies_text(light, horizontal=horizontal))
    whole = read_ies(ies_text(light, horizontal=tuple(range(0, 361, 15))))
    turns = np.arange(-30, 400, 7.5)
    assert part.flux_lm == pytest.approx(whole.flux_lm, rel=1e-12)
    np.testing.assert_allclose(
        part.intensity(33.0, turn_deg=turns), whole.intensity(33.0, turn_deg=turns), rtol=1e-9
    )


@pytest.mark.parametrize("light", [lambda n, t: lopsided(n, t), lambda n, t: lopsided(n, t + 90)])
def test_lopsided_light_is_found_on_its_own_side(light):
    found = read_ies(ies_text(light, horizontal=tuple(range(0, 361, 15))))
    turns = np.array([0, 90, 180, 270])
    np.testing.assert_allclose(found.intensity(20, turn_deg=turns), light(20, turns), rtol=1e-9)


@pytest.mark.parametrize(
    ("symmetry", "planes", "light"),
    [
        (0, 24, lopsided),
        (1, 1, lobe),
        (1, 24, lobe),
        (2, 24, lambda g, c: lobe(g) * (1 + 0.4 * np.cos(np.radians(c)))),
        (3, 24, lambda g, c: lobe(g) * (1 + 0.4 * np.sin(np.radians(c)))),
        (4, 24, oblong),
    ],
)
def test_eulumdat_symmetries_unfold_to_the_same_light(symmetry, planes, light):
    found = read_ldt(ldt_text(light, symmetry=symmetry, planes=planes))
    turns, gammas = np.arange(0, 360, 15.0), np.arange(0, 91, 5.0)[:, None]
    np.testing.assert_allclose(
        found.intensity(gammas, turn_deg=turns), light(gammas, turns), rtol=1e-9, atol=1e-9
    )


@pytest.mark.parametrize("kind", [2, 3])
def test_floodlight_frames_hold_the_same_light(kind):
    angles = np.radians(np.arange(-90, 91, 2.5))
    # In both frames the downward cosine is the product of the two cosines.
    values = 1000 * np.cos(angles)[:, None] * np.cos(angles)[None, :]
    degrees = tuple(np.arange(-90, 91, 2.5).tolist())
    text = ies_text(None, vertical=degrees, horizontal=degrees, values=values, kind=kind)
    found = read_ies(text)
    assert found.flux_lm == pytest.approx(1000 * math.pi, rel=1e-3)  # curvature at 2.5 degrees
    at = np.array([0, 20, 45, 80])
    np.testing.assert_allclose(found.intensity(at, turn_deg=33.0), lobe(at), rtol=2e-3)
    assert found.intensity(120) == 0


@pytest.mark.parametrize("kind", [2, 3])
def test_floodlight_frames_tell_their_two_axes_apart(kind):
    # 1000 cd up to 10 degrees vertically and 40 horizontally, dark beyond.
    vertical, horizontal = (-90, -10.01, -10, 10, 10.01, 90), (0, 40, 40.01, 90)
    values = [[0, 0, 1000, 1000, 0, 0]] * 2 + [[0] * 6] * 2
    text = ies_text(None, vertical=vertical, horizontal=horizontal, values=values, kind=kind)
    found = read_ies(text)
    assert found.intensity(30, turn_deg=[0, 90, 180, 270]).tolist() == [1000, 0, 1000, 0]


def test_frames_that_begin_at_zero_are_mirrored():
    half, whole = np.arange(0, 91, 5.0), np.arange(-90, 91, 5.0)

    def values(degrees):
        cosine = np.cos(np.radians(degrees))
        return 1000 * cosine[:, None] * cosine

    found = [
        read_ies(ies_text(None, vertical=tuple(d), horizontal=tuple(d), values=values(d), kind=2))
        for d in (half, whole)
    ]
    assert found[0].flux_lm == pytest.approx(found[1].flux_lm, rel=1e-12)
    assert found[0].intensity(40, turn_deg=200) == pytest.approx(
        found[1].intensity(40, turn_deg=200)
    )


def beams():
    with (CHECKS / "beam_angle_cosm.csv").open() as rows:
        return [(float(r["beam_angle_fwhm_deg"]), float(r["m"])) for r in csv.DictReader(rows)]


# The table follows from m = ln 0.5 / ln cos(beam / 2); a 1-degree file is read back.
@pytest.mark.parametrize(("beam", "exponent"), beams())
def test_beam_of_a_lobe_is_recovered_both_ways(beam, exponent):
    text = ies_text(lambda n, t: lobe(n, t, exponent=exponent), vertical=tuple(range(91)))
    found = read_ies(text)
    assert beam_deg(found) == pytest.approx(beam, abs=0.05)
    assert equivalent_beam_deg(found) == pytest.approx(beam, rel=5e-3)


def test_beam_differs_by_plane():
    found = read_ies(ies_text(oblong, horizontal=tuple(range(0, 91, 15))))
    assert beam_deg(found, 0) > beam_deg(found) > beam_deg(found, 90)


def test_beam_with_a_dark_middle_counts_to_its_outer_edge():
    text = ies_text(None, vertical=(0, 20, 40, 60, 90), values=[[10, 100, 100, 0, 0]])
    assert beam_deg(read_ies(text)) == pytest.approx(100)


def test_light_that_goes_up_has_no_beam():
    found = read_ies(ies_text(None, vertical=(0, 90, 135, 180), values=[[0, 0, 50, 100]]))
    assert (beam_deg(found), equivalent_beam_deg(found)) == (None, None)


def test_even_light_is_as_wide_as_it_gets():
    found = read_ies(ies_text(None, vertical=(0, 90), values=[[100, 100]]))
    assert (beam_deg(found), equivalent_beam_deg(found)) == (180, 170)


def test_shape_holds_one_whole_flux():
    found = read_ies(ies_text(lopsided, horizontal=tuple(range(0, 361, 10))))
    nadir, turn = np.radians(np.arange(0.5, 90)), np.arange(2.5, 360, 5)
    shares = per_sr(found, np.degrees(nadir)[:, None], turn)
    whole = np.sum(shares * np.sin(nadir)[:, None]) * np.radians(1) * np.radians(5)
    assert whole == pytest.approx(1, rel=2e-3)  # the straight line between 5-degree steps


def test_intensity_keeps_the_shape_of_its_points(lambertian):
    assert lambertian.intensity(np.zeros((3, 1)), turn_deg=np.zeros(4)).shape == (3, 4)
    assert lambertian.intensity(0.0) == pytest.approx(318.3099)


def test_intensities_are_not_to_be_written_over(lambertian):
    with pytest.raises(ValueError, match="read-only"):
        lambertian.candela[0, 0] = 1


def test_docstring_examples():
    assert doctest.testmod(module).failed == 0
