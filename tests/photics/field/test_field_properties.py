"""What holds for the light field of any tank."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import Fixture, Rock, Tank

QUICK = settings(max_examples=15, deadline=None, derandomize=True)
sides = st.floats(20, 250)
depths = st.floats(10, 90)
panes = st.sampled_from(["clear", "dark"])
seeds = st.integers(0, 10_000)


@st.composite
def tanks(draw):
    return Tank(draw(sides), draw(st.floats(20, 90)), draw(depths), back_pane=draw(panes))


def fixture_over(tank, rng):
    return Fixture(
        rng.uniform(0, tank.length_cm),
        rng.uniform(0, tank.width_cm),
        rng.uniform(5, 60),
        rng.uniform(20, 150),
        rng.uniform(2, 50),
        rng.uniform(2, 30),
        turn_deg=rng.uniform(0, 90),
    )


def size_of(tank):
    return np.array([tank.length_cm, tank.width_cm, tank.depth_cm])


def random_readings(tank, rng, many):
    """Any values a meter might show: the field must cope with nonsense too."""
    return rng.uniform(0, 1, (many, 3)) * size_of(tank), np.exp(rng.normal(4, 0.8, many))


@QUICK
@given(tanks(), st.integers(0, 3), st.integers(4, 30), seeds)
def test_par_is_positive_and_finite_everywhere(tank, many, readings, seed):
    rng = np.random.default_rng(seed)
    points, par = random_readings(tank, rng, readings)
    rock = Rock(*(0.3 * size_of(tank)), *(0.2 * size_of(tank)))
    fixtures = [fixture_over(tank, rng) for _ in range(many)]
    field = fit_light_field(points, par, tank=tank, fixtures=fixtures, rocks=(rock,))
    corners = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T * size_of(tank)
    inside = rng.uniform(0, 1, (60, 3)) * size_of(tank)
    found = field.at(np.vstack([corners, inside, points]))
    for values in (found.par_umol, found.low_umol, found.high_umol):
        assert np.isfinite(values).all() and (values >= 0).all()
    assert (found.low_umol <= found.par_umol).all() and (found.par_umol <= found.high_umol).all()


@QUICK
@given(tanks(), st.booleans(), st.floats(0.01, 100.0), seeds)
def test_scaled_readings_scale_the_map(tank, known, factor, seed):
    rng = np.random.default_rng(seed)
    points, par = random_readings(tank, rng, 12)
    fixtures = [fixture_over(tank, rng)] if known else []
    at = rng.uniform(0, 1, (30, 3)) * size_of(tank)
    one, scaled = (
        fit_light_field(points, par * by, tank=tank, fixtures=fixtures).at(at)
        for by in (1.0, factor)
    )
    # Both climb to the same optimum from starts that differ, and either stops once a step
    # is under a thousandth of a prior's width (calibrate.SETTLED): that is the agreement owed.
    np.testing.assert_allclose(scaled.par_umol, factor * one.par_umol, rtol=1e-3)
    np.testing.assert_allclose(scaled.high_umol, factor * one.high_umol, rtol=1e-3)


@QUICK
@given(tanks(), st.booleans(), seeds)
def test_the_order_of_readings_does_not_matter(tank, known, seed):
    rng = np.random.default_rng(seed)
    points, par = random_readings(tank, rng, 14)
    fixtures = [fixture_over(tank, rng)] if known else []
    mixed = rng.permutation(14)
    at = rng.uniform(0, 1, (30, 3)) * size_of(tank)
    one, other = (
        fit_light_field(points[order], par[order], tank=tank, fixtures=fixtures)
        for order in (np.arange(14), mixed)
    )
    assert (one.at(at).par_umol == other.at(at).par_umol).all()
    assert (one.summary.loo_par_umol[mixed] == other.summary.loo_par_umol).all()


@QUICK
@given(tanks(), st.sampled_from([0, 1, 2]), seeds)
def test_a_mirror_symmetric_tank_gives_a_symmetric_map(tank, many, seed):
    rng = np.random.default_rng(seed)

    def mirrored(points):
        return points * [-1, 1, 1] + [tank.length_cm, 0, 0]

    half, par = random_readings(tank, rng, 8)
    off = 0.0 if many == 1 else 0.2 * tank.length_cm
    fixtures = [
        Fixture(tank.length_cm / 2 + side * off, 0.4 * tank.width_cm, 20, 80, 20, 15)
        for side in (-1, 1)[:many]
    ]
    field = fit_light_field(
        np.vstack([half, mirrored(half)]), np.r_[par, par], tank=tank, fixtures=fixtures
    )
    at = rng.uniform(0, 1, (30, 3)) * size_of(tank)
    left, right = field.at(at), field.at(mirrored(at))
    # Both halves are summed in another order, and the climb stops within its own tolerance.
    np.testing.assert_allclose(left.par_umol, right.par_umol, rtol=1e-4)
    np.testing.assert_allclose(left.high_umol, right.high_umol, rtol=1e-4)
