"""The benchmark's photon tracer against closed forms: its light must not lean on the app's."""

import ast

import numpy as np
import pytest

from tests.benchmarks.photon_world import (
    ANGLES,
    Box,
    Lamp,
    bare,
    lens,
    reflector,
    scattered,
    trace,
    turned,
)
from tests.paths import DATA, ROOT

PHOTONS = 1 << 17
CHECKS = DATA / "checks"
# Nothing but geometry: an index of 1 has no surface, no panes and no bends.
AIR = {"index": 1.0, "absorption": 0.0, "scattering": 0.0, "ripple": 0.0, "bottom": 0.0}


def point_lamp(optic, height_cm=20.0):
    return Lamp(50.0, 50.0, height_cm, 0.01, 0.01, optic)


def test_every_photon_is_booked():
    rocks = (((20, 10, 25), (40, 30, 40)),)
    box = Box(60, 45, 40, rocks=rocks, scattering=0.01, bottom=0.4, dark_back=True)
    lamp = Lamp(25, 22, 20, 18, 18, reflector(90), round_face=True, tilt=(0.02, -0.01))
    tally = trace(box, lamp, [10.0, 30.0], photons=1 << 15, seed=1)
    assert sum(tally.ledger.values()) == pytest.approx(1.0, abs=1e-9)
    assert {"water", "panes", "bottom", "rocks", "beside the tank"} <= set(tally.ledger)


@pytest.mark.parametrize("aside_cm", [0.0, 12.0, 25.0])
def test_light_in_air_falls_by_the_inverse_square(aside_cm):
    tally = trace(Box(100, 100, 60, **AIR), point_lamp(bare(120)), [30.0], photons=PHOTONS, seed=2)
    # A Lambert source: intensity cos / pi, on a level sensor cos / r^2 of it.
    cosine = 50.0 / np.hypot(50.0, aside_cm)
    expected = cosine**4 / np.pi / 50.0**2
    found = tally.at([(50.0 + aside_cm, 50.0, 30.0)], radius_cm=4.0)[0]
    # About 900 photons fall on the disc, spread more evenly than by chance.
    assert found == pytest.approx(expected, rel=0.03)


def test_straight_light_fades_by_beer_and_lambert():
    box = Box(100, 100, 60, absorption=0.01, scattering=0.0, ripple=0.0, bottom=0.0)
    tally = trace(box, point_lamp(lens(2.0, spill=0.0)), [10.0, 50.0], photons=1 << 15, seed=3)
    near, far = tally.light.reshape(2, -1).sum(axis=1)
    # The beam is a degree wide: slant ways are longer by less than 0.02 %.
    assert far / near == pytest.approx(np.exp(-0.4), rel=5e-4)


def test_a_point_source_over_water_is_that_of_the_table():
    table = np.genfromtxt(
        CHECKS / "underwater_point_source_flat_surface.csv", delimiter=",", names=True
    )
    height_cm, depth_cm = 20.32, 30.48
    wanted = (
        np.isclose(table["n_water"], 1.333)
        & np.isclose(table["height_above_water_m"], height_cm / 100)
        & np.isclose(table["depth_m"], depth_cm / 100)
        & (table["cos_exponent_m"] == 1)
    )
    box = Box(160, 160, 60, index=1.333, absorption=0.0, scattering=0.0, ripple=0.0, bottom=0.0)
    lamp = Lamp(80.0, 80.0, height_cm, 0.01, 0.01, bare(120))
    tally = trace(box, lamp, [depth_cm], photons=PHOTONS, seed=6)
    rows = table[wanted]
    assert len(rows) > 2
    for row in rows:
        found = tally.at([(80.0 + 100 * row["lateral_x_m"], 80.0, depth_cm)], radius_cm=3.0)[0]
        # A Lambert source of flux 1 has an axial intensity of 1 / pi; from m2 to cm2.
        expected = row["E_horizontal_per_unit_I0_m2"] / np.pi * 1e-4
        assert found == pytest.approx(expected, rel=0.04)


def test_scattering_keeps_its_mean_cosine():
    way = scattered(np.random.default_rng(4), 0.9, 200_000)
    assert way[2].mean() == pytest.approx(0.9, abs=0.002)
    assert np.linalg.norm(way, axis=0) == pytest.approx(1.0)


def test_turning_keeps_the_angle_to_the_axis():
    rng = np.random.default_rng(5)
    axis = rng.normal(size=(3, 500))
    axis /= np.linalg.norm(axis, axis=0)
    way = scattered(rng, 0.5, 500)
    new = turned(way, axis)
    np.testing.assert_allclose((new * axis).sum(axis=0), way[2], atol=1e-12)


@pytest.mark.parametrize("optic", [bare, lens, reflector])
def test_an_optic_is_half_as_bright_at_half_its_beam(optic):
    shape = optic(60, spill=0.0)
    at = np.interp(np.radians(30.0), ANGLES, shape)
    assert at / shape[0] == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("module", ["photon_world", "shaped_photons"])
def test_the_photons_share_no_code_with_the_app(module):
    tree = ast.parse((ROOT / "tests" / "benchmarks" / f"{module}.py").read_text())
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {name.name for node in ast.walk(tree) if isinstance(node, ast.Import)
                 for name in node.names}  # fmt: skip
    standard = {"ast", "dataclasses", "numpy", "scipy.special", "scipy.stats"}
    assert imported <= standard | {"tests.benchmarks.photon_world"}
