"""Light by output alone: its scale, its interval, what misses the water, how shadows fall."""

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.light.branch_shadow import branch_shadow
from apps.photics.layout.light.light_lost import light_lost
from apps.photics.layout.planned_light import PlannedRig, log_axial, planned_field
from apps.photics.rig.fixture_light import output_estimate
from apps.photics.rig.nominal import EDGE, NOMINAL_SHARED, SPILL
from apps.photics.rig.rig import Rig

TWO_FEET = 60.96
PLAIN = NOMINAL_SHARED.copy()
PLAIN[EDGE], PLAIN[SPILL] = 1.0, -50.0


def over_middle(tank, **overrides):
    fields = {"height_cm": 20.0, "beam_deg": 90.0, "panel_x_cm": 20.0, "panel_y_cm": 20.0}
    return Fixture(tank.length_cm / 2, tank.width_cm / 2, **(fields | overrides))


@pytest.mark.parametrize(
    ("height_in", "beam_deg", "caught"), [(8, 120, 0.735), (8, 90, 0.863), (13, 55, 0.910)]
)
def test_share_on_the_surface_of_a_two_foot_tank_by_a_cosine_power_lobe(
    height_in, beam_deg, caught
):
    # A point source of cos^m over 2 x 2 ft, integrated independently of this code.
    tank = Tank(TWO_FEET, TWO_FEET, 50)
    point = over_middle(
        tank, height_cm=2.54 * height_in, beam_deg=beam_deg, panel_x_cm=0.1, panel_y_cm=0.1
    )
    assert 1 - light_lost(point, tank, shared=PLAIN) == pytest.approx(caught, abs=0.006)


def test_output_is_kept_whatever_the_optic():
    # A great surface catches all; just under it the mean PAR times the area is the output less
    # the surface's 2-3 % mirror.
    tank = Tank(400, 400, 50)
    x = (np.arange(120) + 0.5) / 120 * 400
    points = np.array([(a, b, 0.5) for a in x for b in x])
    for beam in (60.0, 110.0):
        fixture = over_middle(tank, beam_deg=beam)
        field = planned_field(tank, [fixture], [output_estimate(ppf_umol_s=100)])
        straight = field.rig_fit.rig.light_by_origin(points, field.rig_fit.theta)[0]
        # Less the spill's grazing light, which leaves even this surface or is mirrored off it.
        assert straight.mean() * 16 == pytest.approx(96, rel=0.05)


def test_twice_the_output_is_twice_the_axial_intensity():
    once, twice = (log_axial(ppf_umol_s=output, beam_deg=80.0) for output in (100.0, 200.0))
    assert twice - once == pytest.approx(np.log(2))


def test_the_interval_is_wide_when_only_watts_are_known():
    tank = Tank(60, 45, 40)
    widths = []
    for output in (output_estimate(ppf_umol_s=90), output_estimate(watts=50)):
        light = planned_field(tank, [over_middle(tank)], [output]).at((30, 22, 20))
        widths.append(float(np.log(light.high_umol / light.low_umol)[0]))
    assert widths[1] > widths[0] + 0.5


def test_a_light_that_is_off_takes_no_part():
    tank = Tank(60, 45, 40)
    lit, off = over_middle(tank), over_middle(tank, level=0.0)
    output = output_estimate(ppf_umol_s=90)
    alone, both = (
        planned_field(tank, fixtures, [output] * len(fixtures)).at((30, 22, 20)).par_umol
        for fixtures in ([lit], [lit, off])
    )
    assert alone == both


def test_no_light_at_all_is_refused():
    tank = Tank(60, 45, 40)
    with pytest.raises(ValueError, match="No fixture is lit"):
        planned_field(tank, [over_middle(tank, level=0.0)], [output_estimate(ppf_umol_s=90)])


def shadow(tank, fixtures):
    outputs = (output_estimate(ppf_umol_s=90),) * len(fixtures)
    planned = PlannedRig(Rig(tank, fixtures), outputs)
    return float(branch_shadow(planned.rig, planned.theta, [(150, 150, 20)])[0])


def test_under_one_small_lamp_a_branch_takes_nearly_all_the_light():
    pool = Tank(300, 300, 60, back_pane="dark")
    assert shadow(pool, [over_middle(pool, panel_x_cm=4, panel_y_cm=4)]) > 0.9


def test_a_tube_beside_a_lamp_softens_the_shadow_of_a_branch():
    pool = Tank(300, 300, 60)
    lamp = over_middle(pool, panel_x_cm=4, panel_y_cm=4)
    tube = Fixture(150, 165, 15, 120, 120, 6, kind="tube")
    assert shadow(pool, [lamp, tube]) < shadow(pool, [lamp]) - 0.1
