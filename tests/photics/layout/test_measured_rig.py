"""What a fitted survey tells beyond it: outputs and the law of the tank, against a known truth."""

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.measured_rig import fitted_law, measured_output
from apps.photics.layout.planned_light import PlannedRig, planned_field
from apps.photics.rig.fixture_light import output_estimate
from apps.photics.rig.rig import Rig
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw

TANK = Tank(60, 45, 40)
LAW = TankLaw((float(np.log(0.006)), -0.03, float(np.log(0.2))), USUAL_LAW.deviations)
FIXTURES = [
    Fixture(18, 22, 20, 90, 15, 15, kind="panel", level=0.8, name="left"),
    Fixture(42, 22, 20, 90, 15, 15, kind="panel", level=0.8, name="right"),
]
POINTS = np.array(
    [(x, y, z) for x in (6, 20, 34, 48) for y in (8, 22, 36) for z in (6, 18, 32)], float
)


def surveyed(outputs, *, noise=0.02, seed=3):
    """Return the Calibrated fit to readings of the model's own light with noise in log PAR."""
    planned = PlannedRig(Rig(TANK, FIXTURES), tuple(outputs), LAW)
    truth = np.exp(planned.rig.log_light_at(POINTS, planned.theta)[0])
    par = truth * np.exp(noise * np.random.default_rng(seed).standard_normal(len(POINTS)))
    return fit_light_field(POINTS, par, tank=TANK, fixtures=FIXTURES).calibrated


def test_output_at_full_level_is_found_within_its_interval():
    fit = surveyed([output_estimate(ppf_umol_s=80.0)] * 2)
    found = measured_output(fit, [0, 1])
    assert found.low_umol_s < 80.0 < found.high_umol_s
    assert found.ppf_umol_s == pytest.approx(80.0, rel=0.15)


def test_a_measured_output_is_surer_than_watts():
    found = measured_output(surveyed([output_estimate(ppf_umol_s=80.0)] * 2), [0])
    guess = output_estimate(watts=50.0)
    assert found.high_umol_s / found.low_umol_s < guess.high_umol_s / guess.low_umol_s / 1.5


def test_fixtures_that_differ_widen_their_common_interval():
    alike = measured_output(surveyed([output_estimate(ppf_umol_s=80.0)] * 2), [0, 1])
    apart = measured_output(
        surveyed([output_estimate(ppf_umol_s=60.0), output_estimate(ppf_umol_s=100.0)]), [0, 1]
    )
    assert apart.high_umol_s / apart.low_umol_s > alike.high_umol_s / alike.low_umol_s + 0.2


def test_the_law_moves_from_usual_towards_the_truth_and_grows_surer():
    law = fitted_law(surveyed([output_estimate(ppf_umol_s=80.0)] * 2))
    usual, true = USUAL_LAW.means[0], LAW.means[0]
    assert abs(law.means[0] - true) < abs(usual - true)
    assert law.deviations[0] < USUAL_LAW.deviations[0]


def test_a_plan_of_what_hangs_gives_the_light_that_was_read():
    fit = surveyed([output_estimate(ppf_umol_s=80.0)] * 2)
    outputs = [measured_output(fit, [0, 1])] * 2
    planned = planned_field(TANK, FIXTURES, outputs, law=fitted_law(fit)).at(POINTS).par_umol
    read = np.exp(fit.predict(POINTS)[0])
    # Optics are planned as told, not as fitted.
    assert np.median(np.abs(planned / read - 1)) < 0.08
