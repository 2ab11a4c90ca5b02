"""Light behind panes at any angle: as in a box where it is one, and nothing lost between panes."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.ground.scene import Brace, Fixture, Rock, Tank
from apps.photics.optics.outline_images import EMITTERS_AT_ONCE
from apps.photics.rig.nominal import BOTTOM, PANE
from apps.photics.rig.rig import Rig

BOX = Tank(60, 45, 50)
SQUARE = Tank(60, 45, 50, shape="outline", outline_cm=((0, 0), (60, 0), (60, 45), (0, 45)))
ROUND = Tank(54, 54, 45, shape="cylinder")
CORNER = Tank(
    60, 60, 45, shape="outline", outline_cm=((0, 60), (0, 0), (25, 0), (60, 35), (60, 60))
)
PAIR = (Fixture(18, 20, 20, 90, 20, 15), Fixture(45, 22, 24, 60, 14, 14, tilt_deg=10))


def inside(tank, many, seed=0, clear_cm=1.0):
    places = np.random.default_rng(seed).uniform(
        (1, 1, 1), (tank.length_cm - 1, tank.width_cm - 1, tank.depth_cm - 1), (6 * many, 3)
    )
    return places[tank.rim.inside_cm(*places[:, :2].T) > clear_cm][:many]


@pytest.mark.parametrize("rocks", [(), (Rock(20, 12, 20, 16, 16, 20),)], ids=["open", "rock"])
def test_a_box_told_by_its_corners_is_a_box(rocks):
    points = inside(BOX, 60)
    box, square = Rig(BOX, PAIR, rocks), Rig(SQUARE, PAIR, rocks)
    theta = box.nominal()
    expected, found = (r.log_light(r.geometry(points), theta) for r in (box, square))
    # Where a patch of a lit face is seen past a corner, panes soften it unlike a rim.
    np.testing.assert_allclose(found[0], expected[0], atol=0.02)
    np.testing.assert_allclose(found[1], expected[1], atol=0.02)
    np.testing.assert_allclose(found[2], expected[2], atol=0.002)
    dense = square.ray_light(square.images(points), theta) @ square.member
    np.testing.assert_allclose(
        square.images(points).summed(dense) + np.exp(theta[-8 + BOTTOM]) * square.returned(points),
        square.parts(square.geometry(points), theta).each,
        rtol=1e-9,
    )


@pytest.mark.parametrize("tank", [ROUND, CORNER], ids=["round", "corner"])
def test_no_light_is_lost_between_panes(tank):
    x, y = tank.rim.middle_cm
    rig = Rig(tank, [Fixture(x, y, 20, 30, 1, 1)])
    theta = rig.nominal()
    # Clear water, panes that mirror all, no bottom and no spill: all that comes in goes down.
    theta[-8:] = [0.0, 1.0, -20.0, -20.0, 0.0, -20.0, 0.0, 0.0]
    axis = np.arange(60) + 0.5
    level = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
    level = level[~tank.outside(*level.T)]

    def flux(depth):
        points = np.column_stack([level, np.full(len(level), depth)])
        return np.exp(rig.log_light_at(points, theta)[0]).sum()

    # Cells of a centimetre do not fill a curve, and a ray may leave through a pane it meets.
    assert flux(42.0) == pytest.approx(flux(4.0), rel=0.02)


@pytest.mark.parametrize("tank", [ROUND, CORNER], ids=["round", "corner"])
def test_derivatives_are_those_of_the_light(tank):
    """Of unmirrored light, far from the rim: what wedges cut off jumps and is left out."""
    x, y = tank.rim.middle_cm
    rig = Rig(tank, [Fixture(x, y, 12, 60, 8, 8)])
    points = inside(tank, 40, clear_cm=15.0)
    points[:, 2] = np.linspace(2, 8, len(points))
    theta = rig.nominal()
    _, slopes = rig.log_light_at(points, theta)
    for k in range(len(theta)):
        step = np.zeros(len(theta))
        step[k] = 1e-5
        up, down = (rig.log_light_at(points, theta + s)[0] for s in (step, -step))
        np.testing.assert_allclose(slopes[:, k], (up - down) / 2e-5, rtol=5e-3, atol=5e-4)


def test_light_turns_with_the_tank():
    """A tank turned about the plumb line, its lamp with it, has the same light."""
    corners = np.array(CORNER.outline_cm, float)
    turned = 60.0 - corners
    there = Tank(60, 60, 45, shape="outline", outline_cm=tuple(map(tuple, turned.tolist())))
    points = inside(CORNER, 50)
    others = points.copy()
    others[:, :2] = 60.0 - points[:, :2]
    first, second = (
        Rig(tank, [Fixture(*place, 18, 100, 10, 10)])
        for tank, place in ((CORNER, (20, 33)), (there, (40, 27)))
    )
    np.testing.assert_allclose(
        first.log_light_at(points, first.nominal())[0],
        second.log_light_at(others, second.nominal())[0],
        # The bottom's cells lie in the frame of the bounding box.
        atol=0.01,
    )


def test_a_dark_back_takes_light_near_it():
    lamp = [Fixture(27, 27, 20, 120, 10, 10)]
    at = np.array([[27.0, 52.0, 30.0], [27.0, 2.0, 30.0]])
    clear, dark = (
        Rig(Tank(54, 54, 45, back_pane=pane, shape="cylinder"), lamp) for pane in ("clear", "dark")
    )
    lost = clear.log_light_at(at, clear.nominal())[0] - dark.log_light_at(at, dark.nominal())[0]
    assert lost[0] > 0.3 > 0.1 > lost[1]


def test_a_rock_shades_mirrored_light_in_a_round_tank():
    lamp = [Fixture(27, 27, 20, 90, 6, 6)]
    under = np.array([[27.0, 27.0, 40.0]])
    plain, shaded = Rig(ROUND, lamp), Rig(ROUND, lamp, [Rock(17, 17, 20, 20, 20, 4)])
    theta = plain.nominal()
    theta[-8 + PANE] = 0.0
    direct, panes, _ = (part[0, 0] for part in plain.light_by_origin(under, theta))
    left, by_panes, _ = (part[0, 0] for part in shaded.light_by_origin(under, theta))
    assert left < 0.01 * direct
    # Light that a pane sends in passes beside the rock or under it, but not all of it.
    assert 0.1 * panes < by_panes < 0.95 * panes


@pytest.mark.parametrize("tank", [BOX, ROUND], ids=["box", "round"])
def test_a_brace_dims_what_crosses_it(tank):
    brace = Brace(20, 0, 14, 54, 0.6)
    braced = replace(tank, braces=(brace,))
    lamp = [Fixture(27, 22, 60, 30, 1, 1)]
    under = np.array([[27.0, 22.0, 4.0], [27.0, 22.0, 30.0], [8.0, 22.0, 4.0]])
    plain, dimmed = (
        Rig(t, lamp).log_light_at(under, Rig(t, lamp).nominal())[0] for t in (tank, braced)
    )
    ratio = np.exp(dimmed - plain)
    np.testing.assert_allclose(ratio[:2], 0.6, atol=0.03)
    assert ratio[2] > 0.97


def test_a_lid_dims_all_alike():
    points = inside(BOX, 20)
    lidded = Tank(60, 45, 50, cover_transmission=0.7)
    plain, dimmed = (
        Rig(t, PAIR).log_light_at(points, Rig(t, PAIR).nominal())[0] for t in (BOX, lidded)
    )
    np.testing.assert_allclose(dimmed - plain, np.log(0.7), atol=1e-6)


def test_an_overflow_shades_as_a_rock_does():
    points, box = inside(BOX, 30), Rock(40, 30, 0, 20, 15, 50)
    points = points[~box.holds(*points.T)]
    tank = Tank(60, 45, 50, overflow=box)
    found, expected = Rig(tank, PAIR), Rig(BOX, PAIR, [box])
    np.testing.assert_array_equal(
        found.log_light_at(points, found.nominal())[0],
        expected.log_light_at(points, expected.nominal())[0],
    )


def test_many_emitters_are_those_few_at_a_time_give():
    points = inside(ROUND, 12)
    crowd = [Fixture(20 + 4 * k, 20 + 3 * k, 20, 20, 24, 24) for k in range(4)]
    together = Rig(ROUND, crowd)
    # Some hundred emitters, more than are looked at together.
    assert len(together.owner) > EMITTERS_AT_ONCE
    alone = [Rig(ROUND, [one]) for one in crowd]
    whole = together.parts(together.geometry(points), together.nominal()).each
    each = [rig.parts(rig.geometry(points), rig.nominal()).each[:, 0] for rig in alone]
    np.testing.assert_allclose(whole, np.stack(each, axis=1), rtol=1e-9)
