"""How much light an optic passes in all, for an intensity of 1 straight down.

By the law of `beam.intensity`, summed over the half sphere.
"""

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.scene import Fixture
from apps.photics.optics.beam import LN2, half_logcos
from apps.photics.optics.intensity_distribution import Ring
from apps.photics.rig.nominal import BEAM, EDGE, SPILL

# Middles of 400 bands from the axis to a right angle [rad]: chosen, because twice as many change no
# flux by a thousandth.
ANGLES = (np.arange(400) + 0.5) / 400 * np.pi / 2.0
# The shared parameters that shape an intensity distribution.
OF_INTENSITY = np.array([BEAM, EDGE, SPILL])
SINES = np.sin(ANGLES)
DEPARTURE = -np.log(np.cos(ANGLES))


def intensity_parts(
    beam_deg: float, shared: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return core and spill of a beam at ANGLES, and u over its half width, (400,) each [1].

    `beam_deg` full width at half maximum [degrees], `shared` (8,) a rig's shared parameters.
    """
    nominal = half_logcos(beam_deg)
    away = DEPARTURE / (nominal * np.exp(shared[BEAM]))
    spill = 2.0 * (1.0 - np.exp(-nominal)) * np.exp(shared[SPILL])
    core: FloatArray = np.exp(-LN2 * away ** shared[EDGE])
    return core, spill * np.cos(ANGLES), away


def weight_of(optic: MeasuredOptic | None) -> FloatArray:
    """Return what of the light at ANGLES counts, for a MeasuredOptic or None, (400,) [1]."""
    return SINES if optic is None else SINES * optic.mean_ratio(ANGLES)


def ring_parts(away: FloatArray, ring: Ring | None) -> tuple[FloatArray, FloatArray]:
    """Return a Ring's intensity at ANGLES and its fall with ln u, (400,) each, or zeros [1].

    `away` u over its half width (400,) [1].
    """
    if ring is None:
        return np.zeros_like(away), np.zeros_like(away)
    bell, falling = (part.astype(float) for part in ring.bell(np.log(away)))
    return ring.strength * bell, ring.strength * bell * falling


def log_flux(
    beam_deg: float,
    shared: FloatArray,
    optic: MeasuredOptic | None = None,
    ring: Ring | None = None,
) -> float:
    """Return the log of the light a fixture of axial intensity 1 gives [1].

    `beam_deg` full width at half maximum [degrees], `shared` (8,) a rig's shared parameters,
    `optic` the MeasuredOptic where it has rays of its own, `ring` where it throws one. Sum over
    ANGLES, without their common width.
    """
    core, spill, away = intensity_parts(beam_deg, shared)
    return float(np.log(((core + spill + ring_parts(away, ring)[0]) * weight_of(optic)).sum()))


def flux_of(fixture: Fixture, shared: FloatArray, ring: Ring | None = None) -> float:
    """Return `log_flux` of a fixture's beam and optic by a rig's `shared` parameters (8,) [1].

    `ring` where it throws one.
    """
    return log_flux(fixture.beam_deg, shared, fixture.optic, ring)


def flux_slopes(fixture: Fixture, shared: FloatArray, ring: Ring | None = None) -> FloatArray:
    """Return the derivatives of `flux_of` by the parameters of OF_INTENSITY, (3,) [1].

    `shared` (8,) a rig's shared parameters [log], `ring` where the fixture throws one.
    """
    core, spill, away = intensity_parts(fixture.beam_deg, shared)
    thrown, thrown_fall = ring_parts(away, ring)
    weight = weight_of(fixture.optic)
    fall = LN2 * away ** shared[EDGE] * core
    by_beam = fall * shared[EDGE] + thrown_fall
    each = np.stack([by_beam, -fall * np.log(away), spill]) * weight
    slopes: FloatArray = each.sum(axis=1) / ((core + spill + thrown) * weight).sum()
    return slopes
