"""Where to read next."""

from dataclasses import replace

import numpy as np
import pytest

from apps.lightmap.page.next import typical_half_widths
from apps.photics.field.light_field import fit_light_field
from apps.photics.field.next_points import (
    CANDIDATES_PER_AXIS,
    joint_covariance,
    model_parts,
    next_points,
)
from apps.photics.field.rescale import Dimmed
from apps.photics.ground.open_water import away_from, open_grid, probe_places
from apps.photics.ground.scene import Rock, Tank, in_rock
from tests.photics.traced import load_traced


@pytest.fixture(scope="module")
def case():
    return load_traced("case-07")


@pytest.fixture(scope="module")
def left_half(case):
    """A field whose readings all come from the left half of the tank."""
    left = case.points_cm[:, 0] < case.tank.length_cm / 2
    return fit_light_field(
        case.points_cm[left], case.par_umol[left], tank=case.tank, fixtures=case.fixtures
    )


def test_the_first_spot_is_where_no_reading_was_taken(case, left_half):
    assert next_points(left_half, 1)[0, 0] > case.tank.length_cm / 2


def test_spots_differ_and_keep_clear_of_the_glass(case, left_half):
    spots = next_points(left_half, 6)
    sizes = (case.tank.length_cm, case.tank.width_cm, case.tank.depth_cm)
    assert len(np.unique(spots, axis=0)) == 6
    assert (spots > 2).all() and (spots < np.array(sizes) - 2).all()


LEDGE = Rock(x_cm=30, y_cm=12, depth_cm=18, length_cm=30, width_cm=16, height_cm=8)
HEAP = Rock(x_cm=6, y_cm=20, depth_cm=22, length_cm=18, width_cm=16, height_cm=18)


def test_a_proposed_spot_can_be_reached_from_the_surface(case, left_half):
    """Five cm from every pane and rock, and no rock above it."""
    spots = next_points(replace(left_half, rocks=(LEDGE, HEAP)), 12)
    sizes = np.array((case.tank.length_cm, case.tank.width_cm, case.tank.depth_cm))
    assert (spots >= 5).all() and (spots <= sizes - 5).all()
    for rock in (LEDGE, HEAP):
        across, down = away_from(rock, spots)
        assert (np.hypot(across, down) >= 5).all()
        assert not ((across < 5) & (spots[:, 2] > rock.depth_cm)).any()


def test_places_beside_corals_are_among_the_reachable(case):
    coral = np.array([[45.0, 20.0, 12.0]])
    plain = probe_places(case.tank, (LEDGE,), (3, 3, 3))
    more = probe_places(case.tank, (LEDGE,), (3, 3, 3), coral)
    near = np.linalg.norm(more[: len(more) - len(plain)] - coral, axis=1)
    assert len(near) and near == pytest.approx(8.0)


def test_a_tank_too_full_for_that_still_has_spots(left_half):
    """Between two rocks nine cm apart nothing is well clear."""
    tank = left_half.tank
    sides = (tank.width_cm, tank.depth_cm)
    halves = (Rock(0, 0, 0, 10.5, *sides), Rock(19.5, 0, 0, tank.length_cm - 19.5, *sides))
    spots = next_points(replace(left_half, rocks=halves), 2)
    assert not len(probe_places(tank, halves, CANDIDATES_PER_AXIS))
    assert ((spots[:, 0] > 12) & (spots[:, 0] < 18)).tolist() == [True, True]


def test_reachable_spots_gain_nearly_as_much_as_any(case, left_half):
    """Of what spots hard by glass and rock would gain, nine tenths stay."""
    field = replace(left_half, rocks=(HEAP,))
    corals = np.array([[70.0, 30.0, 30.0], [60.0, 10.0, 15.0]])
    anywhere = open_grid(field.tank, field.rocks, CANDIDATES_PER_AXIS)

    def gain(candidates):
        spots = next_points(field, 2, spots_cm=corals, candidates=candidates)
        before, after = typical_half_widths(field, spots, corals)
        return before - after

    assert gain(None) > 0.9 * gain(anywhere) > 0


def test_of_places_that_gain_alike_the_one_by_a_coral_in_doubt_is_read(left_half):
    """Two places mirrored about the middle of a coral at rest gain the same."""
    doubtful = np.array([[70.0, 20.0, 20.0]])
    near, far = [70.0, 20.0, 21.0], [70.0, 20.0, 22.0]
    first = next_points(left_half, 1, spots_cm=doubtful, candidates=[far, near])
    assert first[0].tolist() == near


@pytest.mark.parametrize("mine", [0, 1])
def test_corals_draw_the_readings_toward_them(left_half, mine):
    corals = np.array([[84.0, 8.0, 40.0], [60.0, 40.0, 8.0]])
    weights = np.eye(2)[mine] + 1e-3
    first = next_points(left_half, 1, spots_cm=corals, weights=weights, candidates=corals + 2.0)
    np.testing.assert_allclose(first[0], corals[mine] + 2.0)


def test_reading_where_told_narrows_the_map_more_than_elsewhere(case, left_half):
    """Honest gain: fit again with each, and compare the mean width of the interval."""
    told = next_points(left_half, 3)
    rng = np.random.default_rng(4)
    other = rng.uniform((5, 5, 5), (case.tank.length_cm / 2, 40, 40), (3, 3))

    def width(points):
        everywhere = np.vstack([left_half.model.models[0].gp.points, points])
        values = left_half.at(everywhere).par_umol
        field = fit_light_field(everywhere, values, tank=case.tank, fixtures=case.fixtures)
        found = field.at(case.truth_points_cm)
        return np.mean(np.log(found.high_umol / found.low_umol))

    assert width(told) < width(other)


def test_candidates_are_kept_to_and_run_out(left_half):
    where = np.array([[10.0, 10, 10], [70, 30, 30]])
    spots = next_points(left_half, 5, candidates=where)
    assert sorted(map(tuple, spots)) == sorted(map(tuple, where))


def test_no_spot_is_inside_a_rock(case):
    rock = Rock(30, 10, 20, 30, 25, 25)
    field = fit_light_field(
        case.points_cm, case.par_umol, tank=case.tank, fixtures=case.fixtures, rocks=(rock,)
    )
    spots = next_points(field, 8)
    inside = (spots > (30, 10, 20)) & (spots < (60, 35, 45))
    assert not inside.all(axis=1).any()


def test_guessed_and_smooth_maps_answer_too(case):
    guessed = fit_light_field(case.points_cm, case.par_umol, tank=case.tank)
    assert next_points(guessed, 3).shape == (3, 3)


@pytest.mark.parametrize("weights", [[1.0, 2.0], [0.0], [-1.0]])
def test_weights_that_fit_no_spot_are_refused(left_half, weights):
    with pytest.raises(ValueError, match="weights"):
        next_points(left_half, 1, spots_cm=[(10, 10, 10)], weights=weights)


def test_spots_lie_apart_where_they_can(case, left_half):
    spots = next_points(left_half, 4, candidates=case.truth_points_cm)
    apart = np.linalg.norm(spots[:, None] - spots[None], axis=2)[np.triu_indices(4, 1)]
    assert apart.min() >= 10
    # Where all that can be read lies close together, it is read all the same.
    close = np.array([[40.0, 20.0, 20.0], [42.0, 20.0, 20.0], [44.0, 20.0, 20.0]])
    assert len(np.unique(next_points(left_half, 3, candidates=close), axis=0)) == 3


def test_no_spots_are_refused(left_half):
    with pytest.raises(ValueError, match="one spot"):
        next_points(left_half, 0)


def test_after_a_change_spots_are_planned_on_the_light_of_then(case, left_half):
    """A new fixture over the right end is what makes the light unsure: it is read under it."""
    first = case.fixtures[0]
    new = replace(first, x_cm=case.tank.length_cm - 12, beam_deg=0.6 * first.beam_deg)
    dim = [replace(f, level=0.5) for f in case.fixtures]
    field = left_half.forecast([*dim, new], same_as=[None] * len(dim) + [0])
    right = next_points(field, 3)[:, 0] > case.tank.length_cm / 2
    assert right.sum() >= 2


def test_no_spot_lies_in_rock_even_where_no_fixture_carries_the_map():
    tank = Tank(60, 40, 40)
    rock = Rock(10, 5, 5, 40, 30, 30)
    rng = np.random.default_rng(3)
    points = rng.uniform(0, 1, (20, 3)) * (60, 40, 4)
    field = fit_light_field(points, np.exp(rng.normal(4, 1.5, 20)), tank=tank, rocks=(rock,))
    spots = next_points(field, 30)
    assert len(spots) and not in_rock((rock,), *spots.T).any()


def test_tank_full_of_rock_has_no_spot_to_read():
    tank = Tank(60, 40, 40)
    points = [(x, y, 0) for x in (1, 30, 59) for y in (1, 20, 39)]
    field = fit_light_field(points, [100.0] * 9, tank=tank, rocks=(Rock(-1, -1, -1, 62, 42, 42),))
    assert next_points(field, 3).shape == (0, 3)


def test_a_changed_map_is_read_where_it_is_least_sure(case, left_half):
    after = [replace(fixture, height_cm=fixture.height_cm + 5) for fixture in case.fixtures]
    raised = left_half.rescaled(case.fixtures, after)
    dimmed = replace(left_half, model=Dimmed(left_half.model, np.log(0.7), 0.1))
    for field in (raised, dimmed):
        assert next_points(field, 1)[0, 0] > case.tank.length_cm / 2


def test_a_changed_map_is_as_unsure_by_its_parts_as_it_says(case, left_half):
    points = np.array([[10.0, 10.0, 10.0], [40.0, 20.0, 20.0]])
    dimmed = Dimmed(left_half.model, np.log(0.7), 0.1)
    models, weights = model_parts(dimmed)
    covariance, _ = joint_covariance(models, weights, points[:1], points[1:])
    assert np.sqrt(np.diag(covariance)) == pytest.approx(dimmed.predict(points)[1])
