"""The light field as the rest of the house calls it."""

import pickle
from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field.light_field import SMOOTH_TILT_DEG, NotEnoughReadings, fit_light_field
from apps.photics.ground.measured_optic import ANGLES_DEG, TURNS_DEG, measured_optic
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.layout.planned_light import planned_field
from apps.photics.rig.fixture_light import output_estimate
from apps.photics.rig.flux import flux_of
from apps.photics.rig.optic_fit import model_shape

TANK = Tank(60.0, 40.0, 45.0)


def cut_off_optic(beam_deg):
    """An optic that sends its lobe up to 40 degrees and next to nothing beyond."""
    lobe = model_shape(beam_deg, ANGLES_DEG)
    sends = lobe * np.where(ANGLES_DEG <= 40.0, 1.0, 1e-3)
    return measured_optic(np.repeat(sends[:, None], len(TURNS_DEG), axis=1), lobe)


def smooth_light(points):
    """A made-up gentle light: brightest in the middle, dimmer with depth [umol m-2 s-1]."""
    x, y, z = np.asarray(points, float).T
    return 300 * np.exp(-z / 40 - ((x - 30) / 45) ** 2 - ((y - 20) / 45) ** 2)


def grid_points(depths=(5, 20, 38)):
    return np.array([(x, y, z) for z in depths for x in (8, 30, 52) for y in (6, 20, 34)], float)


def test_smooth_light_is_recovered():
    points = grid_points()
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    at = np.random.default_rng(1).uniform((6, 5, 5), (54, 35, 38), (200, 3))
    error = np.abs(field.at(at).par_umol / smooth_light(at) - 1)
    assert np.median(error) < 0.03


def test_grid_and_section_agree_with_at():
    points = grid_points()
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    grid, section = field.grid(15.0, 7.0), field.section(10.0, 7.0)
    assert grid.par_umol.shape == (len(grid.y_cm), len(grid.x_cm))
    assert section.par_umol.shape == (len(section.depth_cm), len(section.x_cm))
    one = field.at(
        [[grid.x_cm[2], grid.y_cm[3], 15.0], [section.x_cm[4], 10.0, section.depth_cm[1]]]
    )
    # The grid is read off a spline of the field: within half a percent of the field itself.
    spline = [grid.high_umol[3, 2], section.high_umol[1, 4]]
    np.testing.assert_allclose(one.high_umol, spline, rtol=5e-3)
    assert grid.x_cm[[0, -1]].tolist() == [0.0, 60.0]


def drawn_and_exact(*fixtures):
    """Return PAR of a level cut as it is drawn, and worked out at its nodes."""
    field = planned_field(TANK, fixtures, [output_estimate(ppf_umol_s=100.0)] * len(fixtures))
    grid = field.grid(15.0, 2.0)
    x, y = np.meshgrid(grid.x_cm, grid.y_cm)
    points = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, 15.0)])
    return field, grid.par_umol.ravel(), field.at(points).par_umol


@pytest.mark.parametrize("tilt", [0.0, SMOOTH_TILT_DEG])
def test_a_cut_under_fixtures_little_tilted_is_read_off_a_spline(tilt):
    field, drawn, exact = drawn_and_exact(Fixture(30, 20, 20, 60, 40, 20, tilt_deg=tilt))
    assert field.is_smooth
    # Worst beside the panes, where their edges kink the light; a twentieth there at most.
    error = np.abs(drawn / exact - 1.0)
    assert np.median(error) < 3e-3 and np.percentile(error, 99) < 0.05


@pytest.mark.parametrize(
    "sharp",
    [
        Fixture(30, 20, 20, 60, 40, 20, tilt_deg=60.0),
        Fixture(30, 20, 20, 60, 40, 20, optic=cut_off_optic(60.0)),
    ],
    ids=["steep", "cut off"],
)
def test_a_cut_under_steep_or_measured_fixtures_is_exact(sharp):
    field, drawn, exact = drawn_and_exact(Fixture(10, 20, 20, 90, 20, 10), sharp)
    assert not field.is_smooth
    np.testing.assert_allclose(drawn, exact, rtol=1e-9)


def test_a_field_rescaled_to_a_steep_fixture_is_exact_too():
    points = grid_points()
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    level = Fixture(30, 20, 20, 60, 40, 20)
    assert field.rescaled([level], [replace(level, level=0.5)]).is_smooth
    assert not field.rescaled([level], [replace(level, tilt_deg=60.0)]).is_smooth


def test_a_lens_on_a_bare_diode_passes_on_its_light_in_a_rescaled_field():
    """The diode's lobe has another edge than the lens's: each counts with its own."""
    points = grid_points()
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    bare, narrow = Fixture(30, 20, 20, 120, 20, 20), Fixture(30, 20, 20, 55, 20, 20)
    found = field.rescaled([bare], [narrow]).model
    before = found.before.nominal()
    sent = [
        theta[0] + flux_of(lamp, theta[4:])
        for theta, lamp in ((before, bare), (found.theta, narrow))
    ]
    assert sent[0] == pytest.approx(sent[1], abs=1e-9)


def test_beyond_the_readings_is_marked_extrapolated():
    points = grid_points(depths=(5, 12))
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    marked = field.at([(30, 20, 8), (30, 20, 40), (30, 20, 14)]).extrapolated
    assert marked.tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("points", "note"),
    [
        ([(x, y, 20) for x in (5, 30, 55) for y in (5, 35)], "one depth"),
        ([(x, 20, z) for x in (5, 30, 55) for z in (5, 35)], "on one line"),
        ([(30, 20, z) for z in (5, 15, 25, 35)], "one above the other"),
    ],
)
def test_thin_arrangements_fit_and_say_so(points, note):
    points = np.array(points, float)
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    grid = field.grid(25.0, 5.0)
    assert np.isfinite(grid.par_umol).all() and (grid.low_umol > 0).all()
    assert any(note in said for said in field.summary.notes)


def test_equal_readings_give_an_even_map():
    points = grid_points()
    field = fit_light_field(points, np.full(len(points), 90.0), tank=TANK)
    np.testing.assert_allclose(field.at(points).par_umol, 90.0, rtol=0.02)
    uneven = fit_light_field(points, smooth_light(points), tank=TANK)
    assert len(set(field.summary.notes) - set(uneven.summary.notes)) == 1


def test_duplicates_count_once():
    points = grid_points()
    par = smooth_light(points)
    twice = fit_light_field(np.vstack([points, points]), np.r_[par, par], tank=TANK)
    once = fit_light_field(points, par, tank=TANK)
    np.testing.assert_allclose(twice.at(points).par_umol, once.at(points).par_umol, rtol=1e-9)
    assert any("share a spot" in note for note in twice.summary.notes)
    assert len(twice.summary.loo_par_umol) == 2 * len(points)


def test_slip_at_a_spot_read_thrice_stands_for_itself():
    points = grid_points()
    par = smooth_light(points)
    clean = fit_light_field(points, par, tank=TANK)
    again = np.vstack([points, points[:1], points[:1]])
    slipped = fit_light_field(again, np.r_[par, par[0] * 1.03, 1.0], tank=TANK)
    # The middle of the three is the true one.
    np.testing.assert_allclose(slipped.at(points).par_umol, clean.at(points).par_umol, rtol=1e-9)
    (odd,) = slipped.summary.disagreeing
    assert (odd.index, odd.measured_umol) == (len(points) + 1, pytest.approx(1.0))


def test_zero_reading_is_kept_and_never_negative():
    points = grid_points()
    par = smooth_light(points)
    par[0] = 0.0
    field = fit_light_field(points, par, tank=TANK)
    assert (field.grid(5.0, 4.0).low_umol >= 0).all()
    assert 0 in [odd.index for odd in field.summary.disagreeing]


@pytest.mark.parametrize("par", [[100, 90, 80], [0, 0, 0, 0, 0]])
def test_too_little_light_to_map_is_refused(par):
    points = grid_points()[: len(par)]
    with pytest.raises(NotEnoughReadings):
        fit_light_field(points, par, tank=TANK)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1.0])
def test_values_no_meter_gives_are_refused(bad):
    points = grid_points()
    par = smooth_light(points)
    par[3] = bad
    with pytest.raises(ValueError):
        fit_light_field(points, par, tank=TANK)


def test_field_pickles_and_repeats_itself():
    points = grid_points()
    field = fit_light_field(points, smooth_light(points), tank=TANK)
    again = pickle.loads(pickle.dumps(fit_light_field(points, smooth_light(points), tank=TANK)))
    assert (again.grid(9.0, 5.0).high_umol == field.grid(9.0, 5.0).high_umol).all()


@pytest.mark.parametrize("fixtures", [(), (Fixture(30, 30, 20, 90, 20, 20),)])
@pytest.mark.parametrize(
    "rock", [Rock(2, 2, 30, 56, 56, 20), Rock(0, 0, 30, 60, 60, 20)], ids=["nearly", "wall to wall"]
)
def test_rock_over_the_whole_footprint_leaves_every_point_some_light(rock, fixtures):
    tank = Tank(60, 60, 50)
    points = [(x, y, z) for z in (10, 40) for x in (10, 30, 50) for y in (10, 50)]
    values = [200.0 if z == 10 else 4.0 for _, _, z in points]
    field = fit_light_field(points, values, tank=tank, fixtures=fixtures, rocks=[rock])
    found = field.grid(45, 10)
    assert np.isfinite(found.par_umol).all() and (found.par_umol > 0).all()
