"""How much light an optic passes in all, for an intensity of 1 straight down."""

import numpy as np

from apps.photics.optics.beam import LN2, half_logcos
from apps.photics.rig.rig import BEAM, EDGE, SPILL

ANGLES = (np.arange(400) + 0.5) / 400 * np.pi / 2.0
# The shared parameters that shape an intensity distribution.
OF_INTENSITY = np.array([BEAM, EDGE, SPILL])
SINES = np.sin(ANGLES)
DEPARTURE = -np.log(np.cos(ANGLES))


def intensity_parts(beam_deg, shared):
    """Return core and spill of a beam at ANGLES, and u over its half width, (400,) each."""
    nominal = half_logcos(beam_deg)
    away = DEPARTURE / (nominal * np.exp(shared[BEAM]))
    spill = 2.0 * (1.0 - np.exp(-nominal)) * np.exp(shared[SPILL])
    return np.exp(-LN2 * away ** shared[EDGE]), spill * np.cos(ANGLES), away


def weight_of(optic):
    """Return what of the light at ANGLES counts, for a MeasuredOptic or None, (400,)."""
    return SINES if optic is None else SINES * optic.mean_ratio(ANGLES)


def log_flux(beam_deg, shared, optic=None):
    """Return the log of the light a fixture of axial intensity 1 gives by a beam angle [1].

    optic: its MeasuredOptic, where it has rays of its own.
    """
    core, spill, _ = intensity_parts(beam_deg, shared)
    return float(np.log(((core + spill) * weight_of(optic)).sum()))


def flux_of(fixture, shared):
    """Return `log_flux` of a fixture's beam and optic [1]."""
    return log_flux(fixture.beam_deg, shared, fixture.optic)


def flux_slopes(fixture, shared):
    """Return the derivatives of `flux_of` by the parameters of OF_INTENSITY, (3,)."""
    core, spill, away = intensity_parts(fixture.beam_deg, shared)
    weight = weight_of(fixture.optic)
    fall = LN2 * away ** shared[EDGE] * core
    each = np.stack([fall * shared[EDGE], -fall * np.log(away), spill]) * weight
    return each.sum(axis=1) / ((core + spill) * weight).sum()
