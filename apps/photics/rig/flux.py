"""How much light an optic passes in all, for an intensity of 1 straight down.

By the law of `beam.intensity`, summed over the half sphere.
"""

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.scene import Fixture
from apps.photics.optics.beam import LN2, half_logcos
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


def log_flux(beam_deg: float, shared: FloatArray, optic: MeasuredOptic | None = None) -> float:
    """Return the log of the light a fixture of axial intensity 1 gives [1].

    `beam_deg` full width at half maximum [degrees], `shared` (8,) a rig's shared parameters,
    `optic` the MeasuredOptic where it has rays of its own. Sum over ANGLES,
    without their common width.
    """
    core, spill, _ = intensity_parts(beam_deg, shared)
    return float(np.log(((core + spill) * weight_of(optic)).sum()))


def flux_of(fixture: Fixture, shared: FloatArray) -> float:
    """Return `log_flux` of a fixture's beam and optic by a rig's `shared` parameters (8,) [1]."""
    return log_flux(fixture.beam_deg, shared, fixture.optic)


def flux_slopes(fixture: Fixture, shared: FloatArray) -> FloatArray:
    """Return the derivatives of `flux_of` by the parameters of OF_INTENSITY, (3,) [1].

    `shared` (8,) a rig's shared parameters [log].
    """
    core, spill, away = intensity_parts(fixture.beam_deg, shared)
    weight = weight_of(fixture.optic)
    fall = LN2 * away ** shared[EDGE] * core
    each = np.stack([fall * shared[EDGE], -fall * np.log(away), spill]) * weight
    slopes: FloatArray = each.sum(axis=1) / ((core + spill) * weight).sum()
    return slopes
