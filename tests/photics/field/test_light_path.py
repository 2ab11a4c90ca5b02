"""A field followed through changes at a few points is the forecast of each, and ages by hours."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.day.ageing import aged_proportion
from apps.photics.field.joined import record_of
from apps.photics.field.light_field import HALF_WIDTH, fit_light_field
from apps.photics.field.light_path import LightPath
from apps.photics.field.rescale import RATIO_DEVIATION, ratio_deviation
from apps.photics.field.rig_change import level_factor
from apps.photics.ground.scene import Fixture, Rock, Tank, Window
from apps.photics.rig.ray_light import LightParts
from apps.photics.rig.rig import Rig
from tests.photics.traced import load_traced


@pytest.fixture(scope="module")
def traced():
    case = load_traced("case-07")
    field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank, fixtures=case.fixtures)
    return case, field


def changes(fixtures):
    first, *rest = fixtures
    return {
        "one dimmed": [replace(first, level=0.3), *rest],
        "one off": [replace(first, level=0.0), *rest],
        "raised under a lens": [replace(first, height_cm=33, beam_deg=55), *rest],
        "back again": list(fixtures),
    }


def test_path_is_the_forecast_at_its_points(traced):
    case, field = traced
    at = case.truth_points_cm[:40]
    path = LightPath(field, at)
    for after in changes(case.fixtures).values():
        found, expected = path.after(after), field.forecast(after).at(at)
        for side in ("par_umol", "low_umol", "high_umol"):
            np.testing.assert_allclose(getattr(found, side), getattr(expected, side), rtol=1e-9)
        assert (found.extrapolated == expected.extrapolated).all()


def test_path_of_a_guessed_rig_is_refused(traced):
    case, _ = traced
    field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank)
    with pytest.raises(ValueError, match="not known"):
        LightPath(field, case.truth_points_cm[:2]).after(case.fixtures)
    with pytest.raises(ValueError, match="not known"):
        LightPath(field, case.truth_points_cm[:2]).ratio(None, (case.fixtures, None, None))


def test_prior_deviation_of_an_output_widens_by_itself(traced):
    case, field = traced
    at = case.truth_points_cm[:40]
    after = [replace(case.fixtures[0], level=0.5), *case.fixtures[1:]]
    path = LightPath(field, at)
    plain, unsure = (path.after(after, deviations=one) for one in (None, (0.3, 0.0)))
    assert (unsure.par_umol == plain.par_umol).all()
    assert (unsure.high_umol > plain.high_umol).all()


def test_parts_of_fixtures_join_to_the_rigs_light():
    tank, rocks = Tank(80.0, 50.0, 45.0), (Rock(20, 10, 25, 15, 15, 20),)
    pair = (Fixture(20, 25, 20, 90, 20, 20), Fixture(60, 25, 26, 70, 10, 10, kind="puck"))
    rig = Rig(tank, pair, rocks)
    points = np.array([(10.0, 10.0, 5.0), (40.0, 25.0, 40.0), (28.0, 18.0, 24.0)])
    theta = rig.nominal()
    alone = [Rig(tank, (f,), rocks) for f in pair]
    parts = [one.parts(one.geometry(points), one.nominal()) for one in alone]
    log_light, slopes = LightParts.beside(parts).joined(np.exp(theta[:2]))
    expected = rig.log_light(rig.geometry(points), theta)
    np.testing.assert_allclose(log_light, expected[0], rtol=1e-12)
    np.testing.assert_allclose(slopes, expected[1], rtol=1e-9, atol=1e-12)
    # Two fixtures alone add up to both.
    each = [np.exp(one.log_light(one.geometry(points), one.nominal())[0]) for one in alone]
    np.testing.assert_allclose(sum(each), np.exp(log_light), rtol=1e-12)


def test_rescaling_knows_levels_exactly_and_says_how_unsure_it_is(traced):
    case, _ = traced
    field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank)
    at = case.truth_points_cm[:60]
    halved = [replace(f, level=0.5) for f in case.fixtures]
    then, now = field.at(at), field.rescaled(case.fixtures, halved).at(at)
    np.testing.assert_allclose(now.par_umol, then.par_umol / 2, rtol=1e-9)
    assert (now.high_umol / now.low_umol > then.high_umol / then.low_umol).all()
    with pytest.raises(ValueError, match="Nothing is lit"):
        field.rescaled(case.fixtures, [replace(f, level=0.0) for f in case.fixtures])


def test_tube_loses_the_same_share_in_each_thousand_hours():
    assert aged_proportion(1000, loss_percent=12) == pytest.approx(0.88)
    whole, parts = (
        aged_proportion(2500, loss_percent=12),
        aged_proportion(np.array([1700, 800]), loss_percent=12),
    )
    assert whole == pytest.approx(parts.prod())


def test_ratio_of_a_dimming_is_sure(traced):
    case, field = traced
    path = LightPath(field, case.truth_points_cm[:40])
    found = path.ratio(None, ([replace(f, level=0.5) for f in case.fixtures], None, None))
    for side in (found.ratio, found.low, found.high):
        np.testing.assert_allclose(side, 0.5, rtol=1e-6)


def test_a_dimming_of_all_alike_is_sure_beyond_the_readings_and_a_move_is_not(traced):
    case, field = traced
    path = LightPath(field, [case.truth_points_cm[0], (0.5, 0.5, 1.0)])
    assert path.beyond.tolist() == [False, True]
    dimmed = [replace(f, level=0.8 * f.level) for f in case.fixtures]
    raised = [replace(f, height_cm=33) for f in case.fixtures]
    assert not path.ratio(None, (dimmed, None, None)).beyond.any()
    assert path.ratio(None, (raised, None, None)).beyond.tolist() == [False, True]


LEFT, RIGHT = (Fixture(x, 20, 15, 90, 20, 20, level=0.5) for x in (20, 60))
OFF = Fixture(40, 20, 15, 90, 20, 20, level=0.0)


@pytest.mark.parametrize(
    ("after", "factor"),
    [
        ([replace(LEFT, level=0.4), replace(RIGHT, level=0.4), OFF], 0.8),
        ([LEFT, RIGHT, OFF], 1.0),
        ([replace(LEFT, level=0.4), RIGHT, OFF], None),
        ([replace(LEFT, level=0.4, height_cm=16), replace(RIGHT, level=0.4), OFF], None),
        ([replace(LEFT, level=0.0), replace(RIGHT, level=0.4), OFF], None),
        ([LEFT, RIGHT, replace(OFF, level=0.5)], None),
    ],
)
def test_levels_alone_have_one_factor(after, factor):
    before = [LEFT, RIGHT, OFF]
    assert level_factor(before, after) == (factor if factor is None else pytest.approx(factor))


def test_a_lamp_that_joins_leaves_no_one_factor():
    assert level_factor([LEFT], [LEFT, RIGHT], [None, 0]) is None


def test_a_rescaled_ratio_of_levels_alone_is_sure_unless_daylight_stays():
    tank = Tank(80, 40, 40)
    dimmed, raised = ([replace(f, **to) for f in (LEFT, RIGHT)] for to in (
        {"level": 0.4}, {"height_cm": 25},
    ))  # fmt: skip
    assert ratio_deviation(tank, [LEFT, RIGHT], dimmed) == 0
    assert ratio_deviation(tank, [LEFT, RIGHT], raised) == RATIO_DEVIATION
    assert ratio_deviation(tank, [LEFT, RIGHT], dimmed[:1]) == RATIO_DEVIATION
    bright = replace(tank, window=Window("left", 12.0))
    assert ratio_deviation(bright, [LEFT, RIGHT], dimmed) == RATIO_DEVIATION


def test_a_map_that_its_lamps_do_not_explain_dims_by_its_own_light():
    """Readings alike everywhere, as no lamp gives them: the map is smooth, and stays so."""
    points = [(x, y, z) for z in (5, 20, 35) for x in (10, 40, 70) for y in (6, 20, 34)]
    readings = 200.0 + 0.1 * np.arange(len(points))
    hung = [LEFT, RIGHT]
    field = fit_light_field(points, readings, tank=Tank(80, 40, 40), fixtures=hung)
    assert field.rig_fit is None and field.calibrated is not None
    dimmed = [replace(f, level=0.4) for f in hung]
    path = LightPath(field, [(40.0, 20.0, 20.0), (5.0, 5.0, 3.0)])
    found = path.ratio(None, (dimmed, None, None))
    np.testing.assert_allclose([found.low, found.ratio, found.high], 0.8, rtol=1e-6)
    then, now = field.at(path.points), field.forecast(dimmed).at(path.points)
    for ends in ("par_umol", "low_umol", "high_umol"):
        np.testing.assert_allclose(getattr(now, ends), 0.8 * getattr(then, ends))
    assert field.forecast(dimmed).summary.method.startswith(field.summary.method)
    # A factor that is unsure, as of lamps that aged, widens the same light.
    unsure = [0.3, 0.3]
    widened = field.forecast(dimmed, deviations=unsure).at(path.points)
    np.testing.assert_allclose(widened.par_umol, now.par_umol)
    half = np.hypot(np.log(now.high_umol / now.par_umol), HALF_WIDTH * 0.3)
    followed = path.after(dimmed, deviations=unsure)
    for one in (widened, followed):
        np.testing.assert_allclose(np.log(one.high_umol / one.par_umol), half)
        np.testing.assert_allclose(np.log(one.par_umol / one.low_umol), half)


def test_ratio_is_surer_than_either_map_and_unsurer_the_further_the_move(traced):
    case, field = traced
    path = LightPath(field, case.truth_points_cm[:40])

    def width(height_cm):
        after = [replace(f, height_cm=height_cm) for f in case.fixtures]
        found = path.ratio(None, (after, None, None))
        expected = path.after(after).par_umol / path.now.par_umol
        np.testing.assert_allclose(found.ratio, expected, rtol=1e-9)
        return np.median(np.log(found.high / found.low))

    now = path.now
    both = np.median(np.hypot(*[np.log(now.high_umol / now.low_umol)] * 2))
    assert width(24) < width(33) < both


@pytest.mark.parametrize(("before", "after"), [(0.2, -0.3), (-0.1, -0.3), (0.3, 0.1), (0.0, 0.2)])
def test_an_outputs_own_deviation_is_one_error_with_a_sign(traced, before, after):
    case, field = traced
    path = LightPath(field, case.truth_points_cm[:40])
    many = len(case.fixtures)

    def states(*deviations):
        return [path.state_of((case.fixtures, None, one)) for one in deviations]

    plain = path.ratio_variance(*states(None, None))
    first, second = states([before] + [0.0] * (many - 1), [after] + [0.0] * (many - 1))
    share = first.slopes[:, 0]
    expected = plain + (share * (after - before)) ** 2
    np.testing.assert_allclose(path.ratio_variance(first, second), expected, atol=1e-9)
    np.testing.assert_allclose(path.ratio_variance(second, first), expected, atol=1e-9)


def test_readings_of_an_older_lamp_are_of_the_error_of_a_newer_one_the_other_way_round(traced):
    case, field = traced
    path, rest = LightPath(field, case.truth_points_cm[:2]), [0.0] * (len(case.fixtures) - 1)
    newer, older = (
        path.state_of((case.fixtures, None, [one, *rest])).change for one in (0.2, -0.2)
    )
    known = record_of([older], [0.0])
    assert known.columns(newer).any()
    np.testing.assert_array_equal(known.columns(older), -known.columns(newer))


def test_no_change_is_a_sure_ratio_of_one(traced):
    case, field = traced
    path = LightPath(field, case.truth_points_cm[:40])
    raised = [replace(f, height_cm=33) for f in case.fixtures]
    for same in (None, (raised, None, None)):
        found = path.ratio(same, same)
        np.testing.assert_allclose([found.low, found.high], 1.0, rtol=1e-6)
    # The error of an earlier move is in both: dimming on top of it is as sure as before it.
    dimmed = [replace(f, level=0.5) for f in raised]
    found = path.ratio((raised, None, None), (dimmed, None, None))
    np.testing.assert_allclose(found.ratio, 0.5, rtol=1e-6)
    assert np.median(found.high / found.low) < 1.02
