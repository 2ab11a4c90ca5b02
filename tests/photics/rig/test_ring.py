"""A ring round the beam's core: its law, its light, and when a fit takes one."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.optics.intensity_distribution import Ring, intensity_along
from apps.photics.rig.flux import flux_of, flux_slopes
from apps.photics.rig.nominal import NOMINAL_SHARED
from apps.photics.rig.rig import Rig

TANK = Tank(90, 50, 48)
LAMPS = (Fixture(24, 25, 20, 75, 18, 18), Fixture(66, 25, 20, 75, 18, 18))
RING = Ring(0.8, 0.7)


def places(many, seed=3):
    return np.random.default_rng(seed).uniform(0, 1, (many, 3)) * (84, 44, 42) + 3


def light(rig, points):
    theta = rig.nominal()
    theta[:2] += 14.0
    return np.exp(rig.log_light_at(points, theta)[0])


def fitted(ring, many=48, seed=3):
    points = places(many, seed)
    noise = np.exp(np.random.default_rng(seed).normal(0, 0.03, many))
    par = light(Rig(TANK, LAMPS, ring=ring), points) * noise
    return fit_light_field(points, par, tank=TANK, fixtures=LAMPS)


def test_a_ring_of_no_strength_is_no_ring():
    points = places(20)
    none = light(Rig(TANK, LAMPS), points)
    np.testing.assert_allclose(
        light(Rig(TANK, LAMPS, ring=replace(RING, strength=0.0)), points), none
    )


def test_a_ring_is_brightest_where_it_stands():
    u = np.exp(RING.place) * 0.23
    cos = np.exp(-np.array([0.6 * u, u, 1.6 * u]))
    shapes = [
        intensity_along(cos, cos2=cos**2, half=0.23, edge=1.6, spill=0.1, ring=ring).light
        for ring in (RING, None)
    ]
    added = shapes[0] - shapes[1]
    assert added[1] == pytest.approx(RING.strength)
    assert added[1] > max(added[0], added[2])


def test_derivatives_are_those_of_differences():
    slope, step = np.linspace(0.1, 2.5, 30), 1e-5

    def shone(slope, half=0.23, strength=RING.strength):
        cos = 1 / np.sqrt(1 + slope**2)
        ring = replace(RING, strength=strength)
        return intensity_along(cos, cos2=cos**2, half=half, edge=1.6, spill=0.1, ring=ring)

    def difference(high, low):
        return np.log(high.light / low.light) / (2 * step)

    cos, at = 1 / np.sqrt(1 + slope**2), shone(slope)
    by_slope = difference(shone(slope + step), shone(slope - step))
    np.testing.assert_allclose(at.by_direction(slope, cos=cos, cos2=cos**2)[0], by_slope, rtol=1e-5)
    by_beam = difference(shone(slope, 0.23 * np.exp(step)), shone(slope, 0.23 * np.exp(-step)))
    np.testing.assert_allclose(at.by_beam, by_beam, rtol=1e-5, atol=1e-8)
    more, less = (shone(slope, strength=RING.strength + way * step) for way in (1, -1))
    np.testing.assert_allclose(at.by_ring(RING), difference(more, less), rtol=1e-5, atol=1e-8)


def test_light_follows_the_strength_of_a_ring_as_its_slopes_say():
    rig, points = Rig(TANK, LAMPS, ring=RING), places(12)
    theta = rig.nominal()
    stronger = rig.ringed(replace(RING, strength=RING.strength + 1e-4))
    # The bottom is lit by the nominal rig, and not worked out anew for a ring.
    stronger.__dict__["lit_bottom"] = rig.lit_bottom
    light = [one.log_light_at(points, theta)[0] for one in (stronger, rig)]
    by_strength = (light[0] - light[1]) / 1e-4
    np.testing.assert_allclose(rig.ring_slopes(points, theta, RING), by_strength, rtol=5e-3)


def test_flux_counts_the_ring_and_its_slopes_are_those_of_differences():
    lamp, shared = LAMPS[0], NOMINAL_SHARED.copy()
    assert flux_of(lamp, shared, RING) > flux_of(lamp, shared) + 0.2
    for place, slope in zip((0, 1, 2), flux_slopes(lamp, shared, RING), strict=True):
        step = np.zeros(8)
        step[place] = 1e-5
        ends = [flux_of(lamp, shared + way * step, RING) for way in (1, -1)]
        assert slope == pytest.approx((ends[0] - ends[1]) / 2e-5, rel=1e-4)


def test_a_fit_takes_a_ring_where_there_is_one_and_its_map_is_better_for_it():
    field = fitted(RING)
    found = field.calibrated.rig.ring
    assert found is not None and abs(found.place - RING.place) < 0.4
    points = places(200, seed=9)
    truth = light(Rig(TANK, LAMPS, ring=RING), points)
    assert np.median(np.abs(field.at(points).par_umol / truth - 1)) < 0.03


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_a_fit_takes_no_ring_where_there_is_none(seed):
    assert fitted(None, seed=seed).calibrated.rig.ring is None


def test_a_ring_stays_with_its_optic_through_a_change():
    field = fitted(RING)
    points = places(100, seed=9)
    raised = [replace(lamp, height_cm=30) for lamp in LAMPS]
    truth = light(Rig(TANK, raised, ring=RING), points)
    after = field.forecast(raised).at(points)
    assert np.median(np.abs(after.par_umol / truth - 1)) < 0.05
    narrow = [replace(lamp, beam_deg=50) for lamp in LAMPS]
    rig = field.forecast(narrow).rig_fit.rig
    assert rig.rings == [None, None]
    assert field.forecast(raised).rig_fit.rig.rings == [field.calibrated.rig.ring] * 2
