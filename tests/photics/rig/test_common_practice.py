"""What reef keepers commonly do, against the rig: heights, optics and small cubes.

Common practice, no published source; the shares of flux were computed apart from this code, by
the formulas beside them.
"""

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.optics.beam import LOG_INTO_WATER, look_up
from apps.photics.rig.nominal import ATTENUATION, BOTTOM, EDGE, PANE, SPILL
from apps.photics.rig.rig import Rig

INCH_CM = 2.54
GONE = -30.0


def lobe(rig, *, pane=GONE, attenuation=-20.0):
    """Return the parameters of a bare cos^m lobe over still, clear water; panes as told [log]."""
    theta = rig.nominal()
    shared = theta[4 * rig.many :]
    shared[EDGE], shared[SPILL], shared[BOTTOM] = 1.0, GONE, GONE
    shared[PANE], shared[ATTENUATION] = pane, attenuation
    return theta


def exponent(beam_deg):
    """Return m of the lobe cos^m whose half strength lies at half the beam."""
    return np.log(0.5) / np.log(np.cos(np.radians(beam_deg / 2)))


def over_cube(side_in, height_in, beam_deg):
    side = side_in * INCH_CM
    spot = Fixture(side / 2, side / 2, height_in * INCH_CM, beam_deg, 0.5, 0.5, kind="puck")
    return Rig(Tank(side, side, side), [spot])


def level(rig, depth_cm, nodes=40):
    """Return the middles (n, 3) of even cells on a level [cm]."""
    at = (np.arange(nodes) + 0.5) / nodes * rig.tank.length_cm
    x, y = np.meshgrid(at, at)
    return np.stack([x.ravel(), y.ravel(), np.full(x.size, depth_cm)], axis=1)


def share_on_water(height_in, beam_deg):
    """Return the share of a point source's flux that meets a 2 ft square of water [1]."""
    rig = over_cube(24, height_in, beam_deg)
    points = level(rig, 0.0)
    light = np.exp(rig.log_light_at(points, lobe(rig))[0])
    away = np.hypot(*(points[:, :2] - rig.tank.length_cm / 2).T)
    cosine = np.cos(np.arctan2(away, height_in * INCH_CM))
    meets = light / np.exp(look_up(LOG_INTO_WATER, cosine))
    flux = 2.0 * np.pi / (exponent(beam_deg) + 1.0)
    return meets.sum() * rig.tank.length_cm**2 / len(points) / flux


@pytest.mark.parametrize(
    ("height_in", "beam_deg", "percent"),
    [(8, 120, 73.5), (8, 90, 86.3), (13, 120, 51.5), (13, 55, 91.0)],
)
def test_share_of_the_flux_on_the_water(height_in, beam_deg, percent):
    """At 13 in a wide optic loses about half over the sides, a 55 degree one keeps nine tenths."""
    # The rig softens the tank's rim over a centimetre or two.
    assert 100 * share_on_water(height_in, beam_deg) == pytest.approx(percent, abs=1.0)


def mean_par(side_in, *, ppf_umol_s, beam_deg, depth_share=0.4):
    rig = over_cube(side_in, 8, beam_deg)
    axis = ppf_umol_s * (exponent(beam_deg) + 1.0) / (2.0 * np.pi)
    points = level(rig, depth_share * rig.tank.depth_cm, nodes=24)
    # Panes that mirror all: what goes in stays in.
    par = 1e4 * axis * np.exp(rig.log_light_at(points, lobe(rig, pane=0.0))[0])
    return par, points


@pytest.mark.parametrize(("side_in", "times"), [(18, 1.78), (12, 4.0)])
def test_same_light_in_a_smaller_cube_scales_by_its_footprint(side_in, times):
    means = [mean_par(side, ppf_umol_s=40, beam_deg=25)[0].mean() for side in (24, side_in)]
    assert means[1] / means[0] == pytest.approx(times, rel=0.03)


def test_two_foot_cube_has_75_to_150_over_most_of_the_middle():
    """One mid-power wide fixture 8 in above: 28 to 56 umol/s reach the water."""
    par, points = mean_par(24, ppf_umol_s=45 / 0.735, beam_deg=120)
    middle = (np.abs(points[:, :2] - 12 * INCH_CM) <= 9 * INCH_CM).all(axis=1)
    assert np.mean((par[middle] >= 75) & (par[middle] <= 150)) > 0.6
