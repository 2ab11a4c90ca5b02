"""A ring of light round the beam's core, where the readings ask for one.

Core and spill are the law of most optics; a bad lens throws a ring as well. Whether there is one is
asked of a fit cheaply, by one more column in its process; only where the readings would then
foresee each other clearly better is the rig fitted with it.
"""

from dataclasses import replace

import numpy as np

from apps.photics.optics.intensity_distribution import Ring
from apps.photics.rig.calibration import Calibrated, LogReadings, calibrate
from apps.photics.rig.prior import PriorDeviations
from apps.photics.rig.remainder import foreseen
from apps.photics.rig.residual import fit_residual

# Where rings are tried, ln(u / half width) [1]: from 1.2 to 1.6 times half the beam, in steps of
# their width. Our own choice.
PLACES = (0.4, 0.7, 1.0)
# How strong a ring may be before any reading, as a part of the axial core, and the strongest that
# is fitted [1]. Our own choice.
STRENGTH, STRONGEST = 0.5, 1.5
# How much better readings must foresee each other with a ring [summed log density]: chosen,
# because less comes about by chance under optics without one.
ADVANTAGE = 3.0
# Strengths fitted about the one that the process asks for, as parts of it [1], and the steps of
# each fit [1]: chosen, because the process is linear and it is not.
STRENGTHS, STEPS = (0.6, 1.0, 1.6), 8


def with_ring(
    fit: Calibrated, readings: LogReadings, deviations: PriorDeviations | None = None
) -> Calibrated:
    """Return a fit, or a better one whose fixtures throw a Ring.

    `deviations` are those the fit was made with. Measured optics have their rings in their rays.
    """
    if any(fixture.optic is not None for fixture in fit.rig.fixtures):
        return fit
    plain = score(fit)
    value, wanted = max(
        (likeliest_ring(fit, readings, place) for place in PLACES), key=lambda one: one[0]
    )
    if value < plain + ADVANTAGE or wanted.strength <= 0:
        return fit
    trials = []
    for part in STRENGTHS:
        ring = replace(wanted, strength=min(part * wanted.strength, STRONGEST))
        trials.append(calibrate(fit.rig.ringed(ring), readings, deviations, steps=STEPS, start=fit))
    best = max(trials, key=score)
    if score(best) < plain + ADVANTAGE:
        return fit
    return calibrate(best.rig, readings, deviations, start=best)


def score(fit: Calibrated) -> float:
    """Return how well the readings foresee each other under a fit [summed log density]."""
    return foreseen(fit.gp, np.ones(len(fit.values)))


def likeliest_ring(fit: Calibrated, readings: LogReadings, place: float) -> tuple[float, Ring]:
    """Return how well readings foresee each other with a ring, and the likeliest Ring there.

    `place` of the ring [1]; returned is the summed log density [1]. Linear in the ring's strength,
    about a rig without one.
    """
    ring = Ring(STRENGTH, place)
    column = STRENGTH * fit.rig.ring_slopes(readings.points_cm, fit.theta, ring)
    old = fit.gp
    gp = fit_residual(
        old.points,
        fit.values,
        noise_variance=fit.noise,
        variance=old.variance,
        lengths=old.lengths,
        basis=np.column_stack([old.basis, column]),
        prior_variance=np.append(old.prior_variance, 1.0),
    )
    strength = STRENGTH * float(gp.coefficients()[0][-1])
    return foreseen(gp, np.ones(len(fit.values))), replace(ring, strength=strength)
