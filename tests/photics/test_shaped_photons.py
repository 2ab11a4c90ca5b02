"""The tracer of tanks that are no boxes against the one of boxes and against closed forms."""

import numpy as np
import pytest

from tests.benchmarks.photon_world import Box, Lamp, bare, trace
from tests.benchmarks.shaped_photons import (
    bow_front,
    chord,
    cylinder,
    half_moon,
    margin,
    polygon,
    trace_shaped,
    trace_window,
)

PHOTONS = 1 << 16
LAMP = Lamp(28, 22, 20, 14, 14, bare(100))
CORNERS = [(0, 0), (60, 0), (60, 45), (0, 45)]


@pytest.mark.parametrize(
    "box",
    [
        cylinder(25, 40, rocks=(((20, 20, 20), (30, 30, 40)),)),
        bow_front(60, 45, 40, 10, braces=((0, 0, 60, 8, 0.5),), cover=0.8),
        half_moon(30, 40, dark_planes=(0,)),
    ],
    ids=["cylinder", "bow", "half moon"],
)
def test_every_photon_is_booked(box):
    tally = trace_shaped(box, LAMP, [10.0, 30.0], photons=PHOTONS, seed=1)
    assert sum(tally.ledger.values()) == pytest.approx(1.0, abs=1e-9)
    assert tally.ledger["panes"] > 0


def test_a_box_by_its_panes_is_a_box():
    planes = [10.0, 30.0]
    boxed = trace(Box(60, 45, 40), LAMP, planes, photons=4 * PHOTONS, seed=1)
    shaped = trace_shaped(polygon(CORNERS, 40), LAMP, planes, photons=4 * PHOTONS, seed=2)
    for first, second in zip(
        *(t.light.reshape(2, -1).sum(axis=1) for t in (boxed, shaped)), strict=True
    ):
        assert first == pytest.approx(second, rel=5e-3)
    for name in ("panes", "water", "bottom"):
        assert shaped.ledger[name] == pytest.approx(boxed.ledger[name], rel=0.02)


def test_a_lossless_cylinder_loses_no_light_downward():
    clear = {"absorption": 0.0, "scattering": 0.0, "ripple": 0.0, "bottom": 0.0, "pane": 1.0}
    lamp = Lamp(25, 25, 30, 1, 1, bare(60))
    tally = trace_shaped(cylinder(25, 60, **clear), lamp, [2.0, 58.0], photons=PHOTONS, seed=3)
    near, far = tally.light.reshape(2, -1).sum(axis=1)
    # From over the axis every ray meets the glass upright and is mirrored wholly.
    assert far == pytest.approx(near, rel=1e-3)


def test_a_cylinder_focuses_light_of_its_axis_there():
    clear = {"absorption": 0.0, "scattering": 0.0, "ripple": 0.0, "bottom": 0.0}
    lamp = Lamp(25, 25, 5, 1, 1, bare(120))
    tally = trace_shaped(cylinder(25, 60, **clear), lamp, [55.0], photons=4 * PHOTONS, seed=4)
    middle, aside = tally.at([(25, 25, 55), (25, 38, 55)], radius_cm=2.0)
    assert middle > 2.5 * aside


def test_a_brace_takes_its_part():
    box = polygon(CORNERS, 40, braces=((0, 0, 60, 45, 0.5),), cover=0.8)
    bare_box = polygon(CORNERS, 40)
    dim, full = (
        trace_shaped(b, LAMP, [20.0], photons=PHOTONS, seed=5).light.sum() for b in (box, bare_box)
    )
    assert dim / full == pytest.approx(0.4, rel=0.01)


def test_daylight_is_booked_and_comes_from_its_side():
    tally = trace_window(polygon(CORNERS, 40), 3, [20.0], photons=PHOTONS, seed=6)
    assert sum(tally.ledger.values()) == pytest.approx(1.0, abs=1e-9)
    near, far = tally.at([(4, 22, 20), (56, 22, 20)], radius_cm=3.5)
    assert near > far > 0


def test_a_pane_is_as_long_as_the_water_behind_it():
    assert np.subtract(*chord(bow_front(60, 45, 40, 10), 0, (0.0, 0.0), (0.0, 1.0))[::-1]) == (
        pytest.approx(35.0)
    )
    assert margin(half_moon(30, 40), 30, 29) == pytest.approx(1.0)
