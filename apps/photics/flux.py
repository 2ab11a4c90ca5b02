"""How much light an optic passes in all, for an intensity of 1 straight down."""

import numpy as np

from .optics import LN2, half_logcos
from .rig import BEAM, EDGE, SKIRT

ANGLES = (np.arange(400) + 0.5) / 400 * np.pi / 2.0
DEPARTURE = -np.log(np.cos(ANGLES))


def lobe_parts(beam_deg, shared):
    """Return core and skirt of a beam's lobe at ANGLES, and u over its half width, (400,) each."""
    nominal = half_logcos(beam_deg)
    away = DEPARTURE / (nominal * np.exp(shared[BEAM]))
    skirt = 2.0 * (1.0 - np.exp(-nominal)) * np.exp(shared[SKIRT])
    return np.exp(-LN2 * away ** shared[EDGE]), skirt * np.cos(ANGLES), away


def log_flux(beam_deg, shared):
    """Return the log of the light a fixture of axial intensity 1 gives by a beam angle [1]."""
    core, skirt, _ = lobe_parts(beam_deg, shared)
    return float(np.log(((core + skirt) * np.sin(ANGLES)).sum()))


def log_flux_slopes(beam_deg, shared):
    """Return the derivatives of `log_flux` by the shared BEAM, EDGE and SKIRT, (3,)."""
    core, skirt, away = lobe_parts(beam_deg, shared)
    fall = LN2 * away ** shared[EDGE] * core
    each = np.stack([fall * shared[EDGE], -fall * np.log(away), skirt]) * np.sin(ANGLES)
    return each.sum(axis=1) / ((core + skirt) * np.sin(ANGLES)).sum()
