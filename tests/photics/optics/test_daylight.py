"""Daylight through one side of a tank."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Rock, Tank, Window
from apps.photics.optics.daylight import daylight_at
from apps.photics.rig.rig import Rig
from tests.benchmarks.shaped_photons import polygon, trace_window

TANK = Tank(60, 45, 40, window=Window("left", 30.0))


def along(tank, xs):
    return daylight_at(np.array([(x, tank.width_cm / 2, tank.depth_cm / 2) for x in xs]), tank)


def test_no_window_no_daylight():
    assert not daylight_at(np.array([[10.0, 10.0, 10.0]]), Tank(60, 45, 40)).any()


def test_it_is_what_it_is_said_to_be_inside_the_pane():
    assert along(TANK, [1.5])[0] == pytest.approx(30.0, rel=0.02)


def test_it_fades_across_the_tank():
    light = along(TANK, [2, 20, 40, 58])
    assert (np.diff(light) < 0).all() and 0.4 < light[-1] / light[0] < 0.95


def test_each_side_is_its_mirror_image():
    right = Tank(60, 45, 40, window=Window("right", 30.0))
    np.testing.assert_allclose(
        along(right, [58, 40, 20, 2]), along(TANK, [2, 20, 40, 58]), rtol=1e-6
    )


def test_the_photon_tracer_agrees():
    box = polygon(
        [(0, 0), (60, 0), (60, 45), (0, 45)], 40, ripple=0.02, scattering=0.001, absorption=0.002
    )
    planes = np.array([10.0, 20.0, 30.0])
    tally = trace_window(box, 3, planes, photons=1 << 18, seed=1)
    places = np.array(
        [(x, y, z) for x in (3, 15, 30, 45, 57) for y in (10, 22, 35) for z in planes]
    )
    ratio = tally.at(places, radius_cm=2.0) / daylight_at(places, TANK)
    ratio /= np.median(ratio)
    # The bottom's own light is in the tracer alone; the photons' noise is about 5 %.
    assert np.median(np.abs(ratio - 1)) < 0.12


WALL = Rock(20, 8, 5, 12, 30, 35)
BEHIND = np.array([(x, y, z) for x in (36, 42, 50) for y in (15, 22, 30) for z in (15.0, 25.0)])


def test_rocks_shade_the_window():
    open_water, behind = daylight_at(BEHIND, TANK), daylight_at(BEHIND, TANK, (WALL,))
    assert (behind < 0.75 * open_water).all() and (behind > 0).all()
    before = np.array([(5.0, 22.0, 20.0)])
    # Only what the far panes mirror is lost in front of it.
    assert 0.6 < daylight_at(before, TANK, (WALL,))[0] / daylight_at(before, TANK)[0] <= 1


def test_a_rock_out_of_the_way_changes_nothing():
    corner = Rock(50, 35, 38, 5, 5, 2)
    near = np.array([(3.0, 10.0, 5.0)])
    ratio = daylight_at(near, TANK, (corner,)) / daylight_at(near, TANK)
    assert ratio[0] == pytest.approx(1, abs=0.01)


def test_an_overflow_shades_like_a_rock():
    tank = replace(TANK, overflow=WALL)
    np.testing.assert_allclose(daylight_at(BEHIND, tank), daylight_at(BEHIND, TANK, (WALL,)))


def test_the_photon_tracer_agrees_on_a_rocks_shadow():
    """The light left behind a wall of rock, for 1 without it: both by the tracer and by us."""
    low, high = (WALL.x_cm, WALL.y_cm, WALL.depth_cm), (32.0, 38.0, 40.0)
    tallies = [
        trace_window(
            polygon(
                [(0, 0), (60, 0), (60, 45), (0, 45)], 40, ripple=0.02, scattering=0.001,
                absorption=0.002, rock=0.0, rocks=rocks,
            ),
            3, np.array([15.0, 25.0]), photons=1 << 18, seed=2,
        )
        for rocks in ((), ((low, high),))
    ]  # fmt: skip
    traced = tallies[1].at(BEHIND, radius_cm=2.5) / tallies[0].at(BEHIND, radius_cm=2.5)
    ours = daylight_at(BEHIND, TANK, (WALL,)) / daylight_at(BEHIND, TANK)
    # The photons' noise is about 7 % of each ratio, and the bottom's light is in the tracer alone.
    assert np.median(np.abs(traced - ours)) < 0.07


def test_it_adds_to_what_fixtures_give():
    points = np.array([[10.0, 20.0, 10.0], [50.0, 30.0, 30.0]])
    lamp = [Fixture(30, 22, 20, 90, 20, 20)]
    plain, lit = Rig(Tank(60, 45, 40), lamp), Rig(TANK, lamp)
    theta = plain.nominal()
    theta[0] = 12.0
    found = np.exp(lit.log_light_at(points, theta)[0])
    expected = np.exp(plain.log_light_at(points, theta)[0]) + daylight_at(points, TANK)
    np.testing.assert_allclose(found, expected, rtol=1e-9)
