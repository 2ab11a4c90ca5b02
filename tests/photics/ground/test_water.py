"""Refraction and the beam of a point source against tables and closed forms."""

import csv
import json

import numpy as np
import pytest

from apps.photics.ground.water import fresnel
from tests.paths import DATA
from tests.photics.point_source import (
    beam_exponent,
    critical_angle_deg,
    point_source_umol,
    wall_escape_angle_deg,
)

CHECKS = DATA / "checks"
WATER = json.loads((CHECKS / "light_water_photometry_checks.json").read_text())["water"]
# As good as no surface at all: the formulas hold for any index above 1.
AIR = 1.0 + 1e-12


def rows_of(name):
    return [
        {key: float(value) for key, value in row.items() if value}
        for row in csv.DictReader((CHECKS / name).open())
    ]


def test_point_source_over_flat_water():
    """128 values of E = I T sin(a) / (x dx/da); a photon count of 4 million rays agreed."""
    for row in rows_of("underwater_point_source_flat_surface.csv"):
        found = point_source_umol(
            row["lateral_x_m"],
            height_cm=row["height_above_water_m"],
            depth_cm=row["depth_m"],
            exponent=row["cos_exponent_m"],
            index=row["n_water"],
        )
        # Six decimals in the table.
        assert found == pytest.approx(row["E_horizontal_per_unit_I0_m-2"], rel=2e-6, abs=1e-6)


def test_fresnel_table():
    """Fresnel's equations at n = 1.333 and 1.34 both ways, confirmed by a thin-film program."""
    for row in rows_of("fresnel_air_water.csv"):
        found = fresnel(
            np.cos(np.radians(row["theta_i_deg"])), index_from=row["n_from"], index_to=row["n_to"]
        )
        assert found == pytest.approx(row["R_unpolarised"], abs=1e-6)


def test_jerlov_table():
    """Jerlov (1968), Optical Oceanography, table XVI, n = 4/3, in percent to one decimal."""
    for angle, percent in WATER["jerlov1968_tableXVI_unpolarised_percent"].items():
        found = 100 * fresnel(np.cos(np.radians(float(angle))), index_from=1.0, index_to=4 / 3)
        # The table is rounded and was read off a scan; 0.15 is a little more than half a unit.
        assert float(found) == pytest.approx(percent, abs=0.15)


@pytest.mark.parametrize("index", ["1.333", "1.34"])
def test_critical_angle_and_normal_reflectance(index):
    n = float(index)
    assert critical_angle_deg(n) == pytest.approx(WATER["n"][index]["critical_deg"], abs=1e-8)
    normal = fresnel(1.0, index_from=1.0, index_to=n)
    assert normal == pytest.approx(WATER["n"][index]["R_normal"], abs=1e-6)


@pytest.mark.parametrize(("index", "angle"), [(1.333, 61.81), (1.34, 63.12)])
def test_wall_escape_angle(index, angle):
    """sin(a) = sqrt(n^2 - 1), two decimals."""
    assert wall_escape_angle_deg(index) == pytest.approx(angle, abs=0.005)


@pytest.mark.parametrize("index", ["1.333", "1.34"])
def test_diffuse_reflectance_both_ways(index):
    n = float(index)
    # Midpoint rule over sin^2 of the angle, which is the measure of diffuse light.
    sine2 = (np.arange(400_000) + 0.5) / 400_000
    down = fresnel(np.sqrt(1 - sine2), index_from=1.0, index_to=n).mean()
    up = fresnel(np.sqrt(1 - sine2), index_from=n, index_to=1.0).mean()
    assert down == pytest.approx(WATER["n"][index]["R_diffuse_down"], abs=1e-5)
    assert up == pytest.approx(WATER["n"][index]["R_diffuse_up"], abs=1e-5)
    # Reciprocity holds whatever the table says.
    assert up == pytest.approx(1 - (1 - down) / n**2, abs=1e-5)


@pytest.mark.parametrize(
    ("intensity", "height", "exponent", "across", "expected"),
    [
        (795.775, 3.0, 0.0, (0, 1, 2, 3), (88.419, 75.494, 50.933, 31.261)),
        (1000.0, 2.0, 0.0, (0, 0.5, 1, 2, 3), (250, 228.269, 178.885, 88.388, 42.669)),
        (1000.0, 2.0, 1.0, (0, 0.5, 1, 2, 3), (250, 221.453, 160, 62.5, 23.669)),
    ],
    ids=["10 000 lm even", "1000 cd even", "1000 cd Lambertian"],
)
def test_inverse_square_without_water(intensity, height, exponent, across, expected):
    """E = I(g) h / (h^2 + r^2)^1.5; half of the way stands for air, half for water of n = 1."""
    found = intensity * point_source_umol(
        np.array(across, float),
        height_cm=height / 2,
        depth_cm=height / 2,
        exponent=exponent,
        index=AIR,
    )
    np.testing.assert_allclose(found, expected, rtol=1e-4)


def midpoints(low, high, many):
    return low + (np.arange(many) + 0.5) / many * (high - low)


def test_lambertian_disc_closed_form():
    """On the axis of a disc E / M = a^2 / (a^2 + h^2): radius 0.1 at 0.2 gives 0.2."""
    radius = np.sqrt(midpoints(0, 0.1**2, 4000))
    each = point_source_umol(radius, height_cm=0.1, depth_cm=0.1, exponent=1, index=AIR)
    assert each.mean() * 0.1**2 == pytest.approx(0.2, rel=1e-4)


@pytest.mark.parametrize(
    ("long", "wide", "expected"), [(1.0, 1.0, 0.138531606), (0.5, 1.0, 0.090184371)]
)
def test_parallel_rectangle_closed_form(long, wide, expected):
    """Form factor of a rectangle seen from under its corner, sides in units of the height."""
    x, y = np.meshgrid(midpoints(0, long, 400), midpoints(0, wide, 400))
    each = point_source_umol(np.hypot(x, y), height_cm=0.5, depth_cm=0.5, exponent=1, index=AIR)
    assert each.mean() * long * wide / np.pi == pytest.approx(expected, rel=1e-5)


def test_what_enters_the_water_reaches_every_depth():
    """Flux through a level plane equals what the surface lets in, at any depth."""
    angle = midpoints(0, np.pi / 2, 20_000)
    passed = 1 - fresnel(np.cos(angle), index_from=1.0, index_to=1.34)
    enters = (np.cos(angle) ** 3 * passed * np.sin(angle)).sum() * np.pi / 2 / 20_000
    across = midpoints(0, 30, 300_000)
    for depth in (0.1, 0.5, 2.0):
        light = point_source_umol(across, height_cm=0.2, depth_cm=depth, exponent=3)
        assert (light * across).sum() * 30 / 300_000 == pytest.approx(enters, rel=1e-3)


def test_beam_exponents():
    """m = ln 0.5 / ln cos(beam / 2), six decimals."""
    for row in rows_of("beam_angle_cosm.csv"):
        assert beam_exponent(row["beam_angle_fwhm_deg"]) == pytest.approx(row["m"], rel=1e-5)


@pytest.mark.parametrize(
    ("height", "beam", "share"),
    [
        (0.2032, 55, 0.9881),
        (0.2032, 90, 0.8627),
        (0.2032, 120, 0.7352),
        (0.3302, 55, 0.9102),
        (0.3302, 90, 0.6606),
        (0.3302, 120, 0.5147),
    ],
)
def test_share_of_a_beam_on_a_square(height, beam, share):
    """Share of cos^m flux on a square of 0.6096; 0.7352 is four times the closed form."""
    exponent = beam_exponent(beam)
    x, y = np.meshgrid(*(midpoints(-0.3048, 0.3048, 300),) * 2)
    half = height / 2
    light = point_source_umol(
        np.hypot(x, y), height_cm=half, depth_cm=half, exponent=exponent, index=AIR
    )
    flux = light.mean() * 0.6096**2
    assert flux * (exponent + 1) / (2 * np.pi) == pytest.approx(share, abs=2e-4)
