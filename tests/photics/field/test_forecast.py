"""The light after a change: what must hold exactly, and a made-up change recovered."""

import pickle
from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.rig.rig import Rig
from tests.photics.traced import load_traced

TANK = Tank(80.0, 50.0, 45.0)
PAIR = (
    Fixture(20, 25, 20, 90, 20, 20, name="left"),
    Fixture(60, 25, 20, 90, 20, 20, name="right"),
)


def light_of(fixtures, points, gain=2e5):
    """PAR of fixtures by the rig model itself: a truth without model error."""
    rig = Rig(TANK, fixtures)
    return gain * np.exp(rig.log_light_at(np.asarray(points, float), rig.nominal())[0])


def grid_points():
    axes = (8, 24, 40, 56, 72), (8, 25, 42), (6, 20, 38)
    return np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 3).astype(float)


def spots(many=150):
    return np.random.default_rng(3).uniform((4, 4, 4), (76, 46, 42), (many, 3))


@pytest.fixture(scope="module")
def traced():
    case = load_traced("case-07")
    field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank, fixtures=case.fixtures)
    return case, field


def dimmed(fixtures, *levels):
    return [replace(f, level=level) for f, level in zip(fixtures, levels, strict=True)]


def test_no_change_is_the_same_field(traced):
    case, field = traced
    same = field.forecast(case.fixtures)
    assert (
        same.at(case.truth_points_cm).high_umol == field.at(case.truth_points_cm).high_umol
    ).all()


def test_dimming_all_scales_map_and_interval(traced):
    case, field = traced
    now, then = (
        f.at(case.truth_points_cm) for f in (field, field.forecast(dimmed(case.fixtures, 0.4, 0.4)))
    )
    for side in ("par_umol", "low_umol", "high_umol"):
        np.testing.assert_allclose(getattr(then, side), 0.4 * getattr(now, side), rtol=1e-9)


def test_two_fixtures_alone_add_up_to_both(traced):
    case, field = traced
    at = case.truth_points_cm
    alone = [field.forecast(dimmed(case.fixtures, *on)).at(at).par_umol for on in ((1, 0), (0, 1))]
    # Parameters are followed linearly in log PAR, which adds up to a few parts in a thousand.
    np.testing.assert_allclose(sum(alone), field.at(at).par_umol, rtol=0.01)


@pytest.mark.parametrize(
    "after",
    [
        dimmed(PAIR, 1.0, 0.3),
        [replace(f, height_cm=33, beam_deg=55) for f in PAIR],
        [PAIR[0], replace(PAIR[1], x_cm=50)],
    ],
    ids=["one dimmed", "raised under a narrower optic", "one moved"],
)
def test_a_change_of_the_models_own_light_is_foretold(after):
    """The optic after passes on all its light, so its intensity follows from the beam."""
    points, at = grid_points(), spots()
    field = fit_light_field(points, light_of(PAIR, points), tank=TANK, fixtures=PAIR)
    truth = light_of(after, at)
    if after[0].beam_deg != PAIR[0].beam_deg:
        # Flux of cos^m-like lobes of both beams, from their own shape.
        angle = np.linspace(0, np.pi / 2, 2001)[1:-1]

        def flux(beam):
            u = -np.log(np.cos(angle))
            half = -np.log(np.cos(np.radians(beam / 2)))
            spill = 0.12 * 2 * (1 - np.exp(-half))
            core = np.exp(-np.log(2) * (u / half) ** 1.6)
            return ((core + spill * np.cos(angle)) * np.sin(angle)).sum()

        truth = truth * flux(PAIR[0].beam_deg) / flux(55)
    found = field.forecast(after).at(at)
    # Weak priors pull a little even on readings without noise; a new optic's spill is taken to lie
    # between what this one and a barer emitter would keep.
    limit = 0.02 if after[0].beam_deg == PAIR[0].beam_deg else 0.05
    assert np.median(np.abs(found.par_umol / truth - 1)) < limit
    assert np.mean((found.low_umol < truth) & (truth < found.high_umol)) > 0.95


def test_a_move_widens_the_interval(traced):
    case, field = traced
    at = case.truth_points_cm
    moved = [replace(f, height_cm=f.height_cm + 13, beam_deg=60) for f in case.fixtures]

    def width(f):
        found = f.at(at)
        return np.median(found.high_umol / found.low_umol)

    assert width(field.forecast(moved)) > 1.1 * width(field)


def test_a_lens_on_one_leaves_the_others_light_as_it_was(traced):
    case, field = traced
    left, right = case.fixtures
    lensed = replace(left, beam_deg=50)
    at = case.truth_points_cm
    both = field.forecast([lensed, right]).at(at).par_umol
    alone = field.forecast([lensed, replace(right, level=0.0)]).at(at).par_umol
    other = field.forecast([replace(left, level=0.0), right]).at(at).par_umol
    np.testing.assert_allclose(both, alone + other, rtol=0.02)


def test_a_lens_on_one_makes_unsure_what_it_lights(traced):
    case, field = traced
    left, right = case.fixtures
    at = np.array([(left.x_cm, left.y_cm, 25.0), (right.x_cm, right.y_cm, 25.0)])

    def width(f):
        found = f.at(at)
        return np.log(found.high_umol / found.low_umol)

    wider = width(field.forecast([replace(left, beam_deg=50), right])) / width(field)
    assert wider[0] > 2.0
    # Some of the left one's light gets there too.
    assert wider[1] < 1.6


def test_an_optic_that_hangs_already_is_no_new_one():
    points = grid_points()
    mixed = (PAIR[0], replace(PAIR[1], beam_deg=60))
    field = fit_light_field(points, light_of(mixed, points), tank=TANK, fixtures=mixed)
    swapped = field.forecast((replace(PAIR[0], beam_deg=60), mixed[1]))
    strange = field.forecast((replace(PAIR[0], beam_deg=58), mixed[1]))
    assert swapped.rig_fit.rig.optics == 0
    assert strange.rig_fit.rig.optics == 1
    at = spots()
    widths = [np.median(f.at(at).high_umol / f.at(at).low_umol) for f in (swapped, strange)]
    assert widths[0] < widths[1]


def test_explanation_of_a_forecast_adds_up(traced):
    case, field = traced
    then = field.forecast(dimmed(case.fixtures, 1.0, 0.5))
    said = then.explain((40, 20, 20))
    parts = [c.direct_umol + c.by_panes_umol + c.by_bottom_umol for c in said.contributions]
    assert sum(parts) + said.correction_umol == pytest.approx(said.par_umol)
    assert "after the change" in then.summary.method


def test_a_new_fixture_takes_the_place_in_the_list(traced):
    case, field = traced
    more = field.forecast(
        [*case.fixtures, replace(case.fixtures[0], x_cm=45)], same_as=[None, None, 0]
    )
    at = case.truth_points_cm
    assert (more.at(at).par_umol > field.at(at).par_umol).mean() > 0.99
    assert pickle.loads(pickle.dumps(more)).at(at).par_umol[0] == more.at(at).par_umol[0]


def test_fixtures_that_do_not_fit_are_refused(traced):
    case, field = traced
    one = case.fixtures[:1]
    with pytest.raises(ValueError, match="2 fixtures hung"):
        field.forecast(one)
    with pytest.raises(ValueError, match="one entry of same_as each"):
        field.forecast(case.fixtures, same_as=[None])
    with pytest.raises(ValueError, match="No fixture is lit"):
        field.forecast(dimmed(case.fixtures, 0, 0))
    with pytest.raises(ValueError, match="takes its output from one"):
        field.forecast([*case.fixtures, one[0]], same_as=[None, None, 5])
    unknown = fit_light_field(case.points_cm, case.par_umol, tank=case.tank)
    with pytest.raises(ValueError, match="are not known"):
        unknown.forecast(case.fixtures)
