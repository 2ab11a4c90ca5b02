"""A rig with a new optic on some of its fixtures: one of known optics is a Rig; slopes are true."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.optics.beam import half_logcos, intensity
from apps.photics.rig.changed_optic import RefittedRig
from apps.photics.rig.flux import ANGLES, OF_INTENSITY, flux_of, flux_slopes
from apps.photics.rig.nominal import BEAM, EDGE, NOMINAL_SHARED, SHARED, SPILL
from apps.photics.rig.rig import Rig

TANK = Tank(80.0, 50.0, 45.0)
TRIO = (
    Fixture(15, 25, 20, 90, 15, 15),
    Fixture(40, 25, 24, 55, 15, 15),
    Fixture(65, 25, 20, 90, 15, 15),
)
POINTS = np.array([(10.0, 10.0, 8.0), (40.0, 25.0, 40.0), (62.0, 30.0, 24.0), (78.0, 4.0, 30.0)])


def theta_of(new_optic):
    """Parameters away from the nominal ones, so that no slope is one of symmetry."""
    rng = np.random.default_rng(1)
    rig = Rig(TANK, TRIO)
    optics = max(new_optic)
    theta = np.concatenate([rig.nominal(), np.tile(NOMINAL_SHARED[OF_INTENSITY], optics)])
    return theta + rng.normal(0, 0.1, len(theta))


def test_known_optics_are_a_plain_rig():
    theta = theta_of((0, 0, 0))
    found = RefittedRig(TANK, TRIO, (), (0, 0, 0)).log_light_at(POINTS, theta)
    expected = Rig(TANK, TRIO).log_light_at(POINTS, theta)
    for a, b in zip(found, expected, strict=True):
        np.testing.assert_allclose(a, b, rtol=1e-12)


def test_slopes_by_gains_and_lobes_are_differences():
    rig, theta = RefittedRig(TANK, TRIO, (), (0, 1, 0)), theta_of((0, 1, 0))
    slopes = rig.log_light_at(POINTS, theta)[1]
    first = 4 * rig.many
    step = 1e-5
    for k in [*range(rig.many), *(first + OF_INTENSITY), *range(first + SHARED, len(theta))]:
        ends = []
        for sign in (1, -1):
            moved = theta.copy()
            moved[k] += sign * step
            ends.append(rig.log_light_at(POINTS, moved)[0])
        difference = (ends[0] - ends[1]) / (2 * step)
        np.testing.assert_allclose(slopes[:, k], difference, rtol=1e-5, atol=1e-8)


def test_a_new_optics_lobe_moves_no_other_fixture():
    rig, theta = RefittedRig(TANK, TRIO, (), (0, 1, 0)), theta_of((0, 1, 0))
    own = theta.copy()
    own[4 * rig.many + SHARED + np.arange(3)] += 0.3
    before, after = (np.array(rig.light_by_origin(POINTS, t)) for t in (theta, own))
    np.testing.assert_array_equal(before[:, :, [0, 2]], after[:, :, [0, 2]])
    assert (np.abs(after[0, :, 1] / before[0, :, 1] - 1) > 0.01).all()


def test_a_gain_under_a_new_optic_is_that_of_its_light():
    """Whatever its beam turns out to be, the light it sends out stays."""
    rig, theta = RefittedRig(TANK, TRIO, (), (0, 1, 0)), theta_of((0, 1, 0))
    wider = theta.copy()
    wider[4 * rig.many + SHARED] += 0.4
    sent = [rig.log_axial(t)[1] + flux_of(TRIO[1], rig.laws(t)[1]) for t in (theta, wider)]
    assert sent[0] == pytest.approx(sent[1], abs=1e-12)
    assert rig.log_axial(wider)[1] < rig.log_axial(theta)[1] - 0.1


def test_flux_is_the_lobes_integral_and_so_are_its_slopes():
    shared = NOMINAL_SHARED.copy()
    shared[[BEAM, EDGE, SPILL]] = 0.1, 1.4, np.log(0.2)
    half = half_logcos(55)
    shape = intensity(
        np.cos(ANGLES),
        half=half * np.exp(0.1),
        edge=1.4,
        spill=2 * (1 - np.exp(-half)) * 0.2,
    )
    assert flux_of(TRIO[1], shared) == pytest.approx(np.log((shape * np.sin(ANGLES)).sum()))
    for parameter, slope in zip(OF_INTENSITY, flux_slopes(TRIO[1], shared), strict=True):
        ends = [shared.copy(), shared.copy()]
        ends[0][parameter] += 1e-5
        ends[1][parameter] -= 1e-5
        difference = (flux_of(TRIO[1], ends[0]) - flux_of(TRIO[1], ends[1])) / 2e-5
        assert slope == pytest.approx(difference, rel=1e-6)


@pytest.mark.parametrize("new_optic", [(0, 0, 0), (0, 1, 0), (1, 2, 1)])
def test_slopes_by_place_are_differences(new_optic):
    # In a tank so wide that no ray passes near the rim, whose soft edge they leave out.
    tank, aside = Tank(400.0, 300.0, 45.0, back_pane="dark"), np.array([160.0, 120.0, 0.0])
    lamps = [replace(f, x_cm=f.x_cm + 160, y_cm=f.y_cm + 120) for f in TRIO]
    rig, theta = RefittedRig(tank, lamps, (), new_optic), theta_of(new_optic)
    points = POINTS + aside
    slopes = rig.place_slopes_at(points, theta)
    for axis, step in enumerate(1e-3 * np.eye(3)):
        ends = [rig.log_light_at(points + way * step, theta)[0] for way in (1, -1)]
        np.testing.assert_allclose(slopes[:, axis], (ends[0] - ends[1]) / 2e-3, atol=2e-4)
