"""Light by output alone: its scale, its interval, what misses the water, how shadows fall."""

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Tank, Window
from apps.photics.layout.light.branch_shadow import branch_shadow
from apps.photics.layout.light.light_lost import light_lost
from apps.photics.layout.planned_light import PlannedRig, log_axial, planned_field
from apps.photics.rig.fixture_light import output_estimate
from apps.photics.rig.nominal import EDGE, NOMINAL_SHARED, SPILL
from apps.photics.rig.rig import Rig
from tests.benchmarks import photon_world

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
    assert widths[1] > widths[0] + 0.45


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


# --- Against photons: what shapes a beam, told ---------------------------------------------------
OPTICS = {
    "bare": (110, photon_world.bare(110, spill=0.03)),
    "diffuser": (120, photon_world.bare(120, spill=0.1)),
    "lens": (110, photon_world.lens(110)),
    "reflector": (110, photon_world.reflector(110, cutoff_deg=63)),
}


@pytest.mark.parametrize("emitter", sorted(OPTICS))
def test_a_wide_optic_over_a_small_box_is_as_bright_as_photons_say(emitter):
    beam, optic = OPTICS[emitter]
    depths = np.array([10.0, 20.0, 35.0])
    lamp = photon_world.Lamp(22.5, 22.5, 18.0, 20, 20, optic, output=1e4 * 60)
    box = photon_world.Box(45, 45, 45)
    tally = photon_world.trace(box, lamp, depths, photons=1 << 17, seed=1)
    across = np.linspace(5.0, 40.0, 6)
    points = np.stack(np.meshgrid(across, across, depths, indexing="ij"), -1).reshape(-1, 3)
    fixture = Fixture(22.5, 22.5, 18.0, beam, 20, 20, emitter=emitter)
    planned = planned_field(Tank(45, 45, 45), [fixture], [output_estimate(ppf_umol_s=60)])
    truth = tally.at(points, radius_cm=2.5).mean()
    assert planned.at(points).par_umol.mean() == pytest.approx(truth, rel=0.06)


def test_fixtures_of_unlike_optics_add_up():
    tank = Tank(60, 45, 40)
    wide = Fixture(15, 22, 20, 110, 20, 20, emitter="bare")
    narrow = Fixture(45, 22, 20, 60, 10, 10, emitter="lens")
    outputs = [output_estimate(ppf_umol_s=60), output_estimate(ppf_umol_s=30)]
    points = np.array([[20.0, 20.0, 10.0], [40.0, 30.0, 30.0]])
    both = planned_field(tank, [wide, narrow], outputs).at(points)
    each = [planned_field(tank, [f], [o]).at(points).par_umol
            for f, o in zip((wide, narrow), outputs, strict=True)]  # fmt: skip
    # The bottom is lit by one optic for all.
    assert both.par_umol == pytest.approx(sum(each), rel=0.01)


def test_a_window_is_counted_once_with_unlike_optics():
    tank = Tank(60, 45, 40, window=Window("left", 40.0))
    lamps = [Fixture(15, 22, 20, 110, 20, 20, emitter="bare", level=1e-6),
             Fixture(45, 22, 20, 60, 10, 10, emitter="lens", level=1e-6)]  # fmt: skip
    outputs = [output_estimate(ppf_umol_s=1)] * 2
    light = planned_field(tank, lamps, outputs).at([[2.0, 22.0, 20.0]]).par_umol
    assert light == pytest.approx(planned_field(tank, lamps[:1], outputs[:1]).at(
        [[2.0, 22.0, 20.0]]).par_umol, rel=1e-3)  # fmt: skip
