"""The rig's light against the point source's formula, and its derivatives against differences."""

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Rock, Tank, Window
from apps.photics.rig.nominal import ATTENUATION, BOTTOM, EDGE, SPILL
from apps.photics.rig.rig import CHUNK_READINGS, Rig
from tests.photics.point_source import beam_exponent, point_source_umol

WIDE = Tank(400.0, 400.0, 30.0)
SPECK = Fixture(200, 200, 25, 90, 0.5, 0.5)


def bare_parameters(rig):
    """The rig as a plain cos^m lobe in clear water over a black bottom."""
    theta = rig.nominal()
    shared = 4 * rig.many
    theta[shared + EDGE] = 1.0
    theta[shared + SPILL] = theta[shared + BOTTOM] = -40.0
    theta[shared + ATTENUATION] = -40.0
    return theta


def test_a_speck_far_from_the_glass_is_a_point_source():
    rig = Rig(WIDE, [SPECK])
    away = np.array([0.0, 5, 12, 25])
    points = np.column_stack([200 + away, np.full(4, 200.0), np.full(4, 20.0)])
    light = np.exp(rig.log_light_at(points, bare_parameters(rig))[0])
    expected = point_source_umol(
        away, height_cm=25, depth_cm=20, exponent=beam_exponent(90), index=1.34
    )
    # Tables of Fresnel's equations between nodes, and a face half a centimetre wide.
    np.testing.assert_allclose(light, expected, rtol=1e-3)


def test_clear_panes_keep_the_light_of_a_narrow_tank_in():
    """All rays meet the side panes beyond the critical angle, so flux at depth is what enters."""
    tank = Tank(40.0, 40.0, 60.0)
    rig = Rig(tank, [Fixture(20, 20, 30, 40, 1, 1)])
    theta = bare_parameters(rig)
    theta[4 * rig.many + 4] = 0.0  # panes without loss of their own

    def flux(depth):
        axis = np.arange(40) + 0.5
        points = np.stack(np.meshgrid(axis, axis, [depth]), axis=-1).reshape(-1, 3)
        return np.exp(rig.log_light_at(points, theta)[0]).sum()

    # A grid of one centimetre, and light softened over one at the rim.
    assert flux(55.0) == pytest.approx(flux(5.0), rel=0.01)


def test_a_dark_back_pane_takes_light_near_it():
    lamp = [Fixture(30, 20, 20, 120, 10, 10)]
    at = np.array([[30.0, 38.0, 30.0]])
    clear, dark = (Rig(Tank(60, 40, 40, back_pane=pane), lamp) for pane in ("clear", "dark"))
    difference = (
        clear.log_light_at(at, clear.nominal())[0] - dark.log_light_at(at, dark.nominal())[0]
    )
    # Next to a mirror nearly all light counts twice; the diffuse rest does not.
    assert 0.4 < difference[0] < np.log(2.05)


def test_a_rock_shades_what_is_under_it_and_nothing_above():
    tank, lamp = Tank(60, 40, 40), [Fixture(30, 20, 20, 60, 5, 5)]
    rock = Rock(22, 12, 15, 16, 16, 4)
    points = np.array([[30.0, 20.0, 10.0], [30.0, 20.0, 25.0]])
    plain, shaded = Rig(tank, lamp), Rig(tank, lamp, [rock])
    change = (
        shaded.log_light_at(points, shaded.nominal())[0]
        - plain.log_light_at(points, plain.nominal())[0]
    )
    assert change[0] == pytest.approx(0.0, abs=0.02)
    assert change[1] < np.log(0.3)


def test_derivatives_are_those_of_the_light():
    """Far from the rim of the open surface: what it cuts off jumps and is left out on purpose."""
    rig = Rig(WIDE, [Fixture(180, 200, 20, 90, 20, 15), Fixture(220, 200, 24, 60, 30, 12)])
    points = np.random.default_rng(2).uniform((160, 170, 3), (240, 230, 28), (40, 3))
    theta = rig.nominal()
    _, slopes = rig.log_light_at(points, theta)
    for k in range(len(theta)):
        step = np.zeros(len(theta))
        step[k] = 1e-5
        up, down = (rig.log_light_at(points, theta + s)[0] for s in (step, -step))
        # The reflectance tables are straight between nodes, their slopes are of the curve.
        np.testing.assert_allclose(slopes[:, k], (up - down) / 2e-5, rtol=2e-3, atol=1e-4)


def test_shares_add_up_to_the_light():
    rig = Rig(Tank(60, 40, 40), [Fixture(20, 20, 20, 90, 20, 15), Fixture(45, 20, 20, 90, 9, 9)])
    points = np.random.default_rng(2).uniform((2, 2, 2), (58, 38, 38), (30, 3))
    theta = rig.nominal()
    parts = rig.light_by_origin(points, theta)
    np.testing.assert_allclose(
        np.log(sum(part.sum(axis=1) for part in parts)), rig.log_light_at(points, theta)[0]
    )


def test_light_of_many_points_stays_in_single_precision():
    tank = Tank(length_cm=90, width_cm=50, depth_cm=45)
    rig = Rig(tank, [Fixture(30, 25, 20, 90, 20, 20)])
    points = np.array([(30, 25, 10), (5, 45, 40), (80, 10, 30)], float)
    single, double = (
        rig.ray_light(rig.images(points.astype(precision)), rig.nominal())
        for precision in (np.float32, np.float64)
    )
    assert single.dtype == np.float32 and double.dtype == np.float64
    # Single precision holds seven digits; the ray's slope and the logs take two of them.
    np.testing.assert_allclose(single, double, rtol=1e-4, atol=1e-9)


def test_points_in_chunks_have_the_light_they_have_together():
    rig = Rig(Tank(60.0, 60.0, 50.0), [Fixture(20, 30, 20, 90, 20, 20), SPECK])
    points = np.random.default_rng(3).uniform(5, 45, (CHUNK_READINGS + 1, 3))
    chunks = rig.geometries(points)
    apart = rig.log_light_of(chunks, rig.nominal())
    together = rig.log_light(rig.geometry(points), rig.nominal())
    assert len(chunks) == 2
    for some, other in zip(apart, together, strict=True):
        np.testing.assert_allclose(some, other, rtol=1e-9)


def test_the_proportions_of_the_light_are_its_derivatives_by_the_gains():
    """Over more points than are handled at once, among rock and daylight."""
    tank, rock = Tank(60.0, 40.0, 45.0, window=Window("front", 20.0)), Rock(20, 10, 25, 15, 15, 20)
    rig = Rig(tank, [Fixture(15, 20, 20, 70, 20, 15), Fixture(45, 20, 25, 90, 20, 15)], [rock])
    points = np.random.default_rng(5).uniform((1, 1, 1), (59, 39, 44), (600, 3))
    theta = rig.nominal() + 0.1
    slopes = rig.log_light_at(points, theta)[1]
    np.testing.assert_allclose(rig.proportions_at(points, theta), slopes[:, :2], rtol=1e-12)
