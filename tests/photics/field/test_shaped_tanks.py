"""The field in tanks that are no boxes, traced by an independent tracer: it stays this good.

`python -m tests.benchmarks.shape_worlds` made them.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import Rock, Tank
from tests.benchmarks.shape_worlds import KINDS, load_shaped

ROUND = ("cylinder", "wide cylinder", "bow front", "half moon", "corner")


@cache
def scores(kind, known=True, as_box=False):
    """Return the median error and the coverage of a tank's map [%]."""
    world = load_shaped(kind)
    told = world.described()
    tank = told.tank
    if as_box:
        tank = Tank(tank.length_cm, tank.width_cm, tank.depth_cm, back_pane=tank.back_pane)
    fixtures = told.fixtures if known else ()
    field = fit_light_field(
        world.readings[:, :3], world.readings[:, 3], tank=tank, fixtures=fixtures, rocks=told.rocks
    )
    found, truth = field.at(world.truth[:, :3]), world.truth[:, 3]
    held = (found.low_umol <= truth) & (truth <= found.high_umol)
    return 100 * np.median(np.abs(found.par_umol / truth - 1)), 100 * held.mean()


@pytest.mark.parametrize("kind", KINDS)
def test_error_and_interval_with_the_fixtures_known(kind):
    error, held = scores(kind)
    # Measured 1.3 to 2.9 and 81 to 100; the margin is for other machines' rounding.
    assert error < 3.6
    assert held >= 78


@pytest.mark.parametrize("kind", KINDS)
def test_error_with_the_fixtures_unknown(kind):
    # Measured 1.8 to 3.4.
    assert scores(kind, known=False)[0] < 4.3


@pytest.mark.parametrize("kind", ROUND)
def test_a_bounding_box_would_be_worse(kind):
    # Measured 3.8 to 7.2 for boxes, 1.4 to 2.9 for what they are.
    assert scores(kind)[0] < 0.7 * scores(kind, as_box=True)[0]


def test_points_outside_are_out_of_the_water():
    told = load_shaped("cylinder").described()
    world = load_shaped("cylinder")
    field = fit_light_field(
        world.readings[:, :3], world.readings[:, 3], tank=told.tank, fixtures=told.fixtures
    )
    assert field.at([(2, 2, 20), (27, 27, 20)]).in_rock.tolist() == [True, False]
    grid = field.grid(20.0, 1.0)
    share = 1.0 - grid.in_rock.mean()
    assert share == pytest.approx(np.pi / 4, abs=0.03)
    assert np.isfinite(grid.par_umol).all()


def test_a_forecast_after_a_change_keeps_the_shape():
    world = load_shaped("bow front")
    told = world.described()
    field = fit_light_field(
        world.readings[:, :3], world.readings[:, 3], tank=told.tank, fixtures=told.fixtures
    )
    points = world.truth[:20, :3]
    half = field.forecast([replace(fixture, level=0.5) for fixture in told.fixtures])
    np.testing.assert_allclose(half.at(points).par_umol, 0.5 * field.at(points).par_umol, rtol=1e-6)
    assert half.at([(1, 1, 20)]).in_rock[0]


def test_dimmed_fixtures_leave_the_daylight():
    world = load_shaped("window")
    told = world.described()
    field = fit_light_field(
        world.readings[:, :3], world.readings[:, 3], tank=told.tank, fixtures=told.fixtures
    )
    points = world.truth[:30, :3]
    full = field.at(points).par_umol
    dim = field.forecast([replace(f, level=0.01) for f in told.fixtures]).at(points).par_umol
    fitted = field.calibrated.rig.tank.window.par_umol
    assert 15 < fitted < 40
    assert (dim > 0.02 * full).all() and (dim < full).all()


def test_a_rock_is_doubted_under_the_daylight_that_was_fitted():
    world = load_shaped("window")
    told = world.described()
    field = fit_light_field(
        world.readings[:, :3],
        world.readings[:, 3],
        tank=told.tank,
        fixtures=told.fixtures,
        # Nothing lies there.
        rocks=(Rock(15, 12, 8, 20, 20, 10),),
    )
    assert [fit.number for fit in field.rock_fits] == [0]
    assert field.calibrated.rig.tank.window.par_umol != told.tank.window.par_umol
