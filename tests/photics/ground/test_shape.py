"""Shapes of tanks seen from above: what they hold, how large they are, which are refused."""

import math

import numpy as np
import pytest

from apps.photics.ground.outline import crosses_itself, is_convex, outline_through
from apps.photics.ground.scene import Rock, Tank, out_of_water
from apps.photics.ground.shape import shape_faults

CORNER = ((0, 60), (0, 0), (25, 0), (60, 35), (60, 60))


def faults(shape, length=60.0, width=60.0, **told):
    told = {"radius_cm": None, "bow_cm": None, "outline_cm": None} | told
    return shape_faults(shape, length_cm=length, width_cm=width, **told)


def test_an_outline_is_the_same_in_either_order():
    assert outline_through(CORNER) == outline_through(CORNER[::-1]) or (
        set(outline_through(CORNER).corners_cm) == set(outline_through(CORNER[::-1]).corners_cm)
    )
    assert outline_through(CORNER[::-1]).area_cm2 == pytest.approx(60 * 60 - 35 * 35 / 2)


def test_corners_on_a_straight_pane_are_no_corners():
    assert len(outline_through([(0, 0), (30, 0), (60, 0), (60, 40), (0, 40)]).corners_cm) == 4


@pytest.mark.parametrize(
    ("tank", "expected"),
    [
        (Tank(60, 40, 50), 2400.0),
        (Tank(50, 50, 50, shape="cylinder"), math.pi * 625),
        (Tank(60, 60, 50, shape="outline", outline_cm=CORNER), 60 * 60 - 35 * 35 / 2),
        # Half a circle of 30 cm before a box of 60 by 20.
        (Tank(60, 50, 50, shape="bow", bow_cm=30), math.pi * 450 + 1200),
    ],
    ids=["box", "cylinder", "corner", "bow"],
)
def test_areas(tank, expected):
    assert tank.area_cm2 == pytest.approx(expected, rel=1e-9)
    # Flat panes touch the curve from outside.
    assert tank.rim.area_cm2 == pytest.approx(expected, rel=1e-3)


def test_a_round_tank_holds_its_circle_and_no_corner():
    tank = Tank(50, 50, 50, shape="cylinder")
    turns = np.linspace(0, 2 * np.pi, 37)
    for radius, out in ((24.99, False), (25.2, True)):
        x, y = 25 + radius * np.cos(turns), 25 + radius * np.sin(turns)
        assert (tank.outside(x, y) == out).all()
    assert not Tank(50, 50, 50).outside(0.0, 0.0)


def test_a_bow_front_is_nearest_in_its_middle():
    tank = Tank(90, 50, 50, shape="bow", bow_cm=10)
    assert list(tank.outside([45, 0, 90, 2], [0.1, 10.1, 10.1, 5])) == [False] * 3 + [True]


def test_the_nearest_place_inside():
    outline = Tank(50, 50, 50, shape="cylinder").rim
    moved = outline.drawn_in(np.array([[60.0, 25.0], [25.0, 30.0]]))
    np.testing.assert_allclose(moved, [[50.0, 25.0], [25.0, 30.0]], atol=0.05)


def test_panes_that_face_the_back():
    corner = Tank(60, 60, 50, shape="outline", outline_cm=CORNER).panes
    assert corner.normals[corner.facing("back")].tolist() == [[0.0, 1.0]]
    facing = Tank(50, 50, 50, shape="cylinder").panes.facing("back")
    assert facing.mean() == pytest.approx(1 / 3, abs=0.03)


def test_no_water_in_the_overflow_nor_outside():
    tank = Tank(50, 50, 50, shape="cylinder", overflow=Rock(20, 40, 0, 10, 10, 50))
    out = out_of_water(tank, (), [25, 25, 2], [25, 45, 2], [10, 10, 10])
    assert out.tolist() == [False, True, True]


@pytest.mark.parametrize(
    ("shape", "told", "key"),
    [
        ("cylinder", {}, "radius_cm"),
        ("cylinder", {"radius_cm": 25.0}, "radius_cm"),
        ("bow", {}, "bow_cm"),
        ("bow", {"bow_cm": 31.0}, "bow_cm"),
        ("bow", {"bow_cm": 0.0}, "bow_cm"),
        ("outline", {}, "outline_cm"),
        ("outline", {"outline_cm": ((0, 0), (60, 60), (60, 0), (0, 60))}, "outline_cm"),
        ("outline", {"outline_cm": ((0, 0), (60, 0), (60, 60), (30, 20), (0, 60))}, "outline_cm"),
        ("outline", {"outline_cm": ((0, 0), (40, 0), (40, 60), (0, 60))}, "outline_cm"),
        ("outline", {"outline_cm": ((0, 0), (60, 0), (60, 60), (60, 60), (0, 60))}, "outline_cm"),
    ],
)
def test_what_cannot_be_is_refused_by_name(shape, told, key):
    assert list(faults(shape, **told)) == [key]


def test_what_fits_is_not_refused():
    assert faults("box") == {}
    assert faults("cylinder", radius_cm=30.2) == {}
    assert faults("bow", bow_cm=30.0) == {}
    assert faults("outline", outline_cm=CORNER) == {}


def test_crossing_and_bending_inward_are_two_things():
    bow_tie = ((0, 0), (60, 60), (60, 0), (0, 60))
    arrow = ((0, 0), (60, 0), (60, 60), (30, 20), (0, 60))
    assert crosses_itself(bow_tie) and not crosses_itself(arrow)
    assert not is_convex(arrow) and is_convex(CORNER)
