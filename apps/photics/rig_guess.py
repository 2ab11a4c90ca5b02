"""Which fixtures could have made these readings: a plausible set, when the keeper names none.

Rows of one to a few like fixtures along the length, at a few heights and beams, are each fitted
to the readings. How well each explains them, for its freedom, is its evidence (Laplace's
approximation, MacKay 1992, doi:10.1162/neco.1992.4.3.415). The likely ones are kept together,
weighted, so what the readings cannot tell apart stays in the interval.
"""

from dataclasses import replace
from itertools import product

import numpy as np

from .calibrate import Doubt, calibrate
from .rig import Rig
from .scene import Fixture

# One fixture lights between these lengths of tank [cm]: common practice, no published source.
SHORTEST_CM, LONGEST_CM = 28.0, 75.0
HEIGHTS_CM = (15.0, 28.0)
BEAMS_DEG = (45.0, 75.0, 115.0)
FACES_CM = ((22.0, 18.0), (44.0, 14.0))
# A guessed rig may move far as a whole, while its fixtures stay alike and in their row.
GUESS = Doubt(
    gain=0.15,
    shift_x_cm=2.5,
    shift_y_cm=1.5,
    height_cm=1.5,
    common_x_cm=4.0,
    common_y_cm=3.0,
    common_height_cm=5.0,
    beam=0.3,
    face=0.25,
)
# Readings the screening looks at; the kept rigs are fitted to all.
SCREEN_READINGS = 60
SCREEN_STEPS = 4
FINALISTS = 8
KEPT = 4
LEAST_WEIGHT = 0.05


def candidate_rigs(tank, rocks=()):
    """Return plausible rigs for a tank, in a fixed order."""
    fewest = max(1, int(tank.length_cm / LONGEST_CM))
    most = max(fewest, round(tank.length_cm / SHORTEST_CM))
    rigs = []
    for many in range(fewest, min(most, fewest + 4) + 1):
        middles = (np.arange(many) + 0.5) / many * tank.length_cm
        for height, beam, face in product(HEIGHTS_CM, BEAMS_DEG, FACES_CM):
            if many * face[0] > tank.length_cm:
                continue
            row = [Fixture(x, tank.width_cm / 2, height, beam, *face) for x in middles]
            rigs.append(Rig(tank, row, rocks))
    return rigs


def thin_out(readings, many):
    """Return at most `many` of the Readings, spread evenly over their order along the box."""
    if len(readings.par_umol) <= many:
        return readings
    keep = np.linspace(0, len(readings.par_umol) - 1, many).round().astype(int)
    arrays = ("points_cm", "par_umol", "log_par", "extra_variance", "count")
    return replace(readings, **{name: getattr(readings, name)[keep] for name in arrays})


def guess_rigs(readings, tank, rocks=()):
    """Return the likely rigs Calibrated on the Readings and their weights, most likely first."""
    few = thin_out(readings, SCREEN_READINGS)
    screened = [
        calibrate(rig, few, GUESS, steps=SCREEN_STEPS) for rig in candidate_rigs(tank, rocks)
    ]
    screened.sort(key=lambda fit: -fit.evidence)
    finals = [calibrate(fit.rig, few, GUESS, start=fit) for fit in screened[:FINALISTS]]
    weights = relative_weights(finals)
    likely = [
        finals[k] for k in np.argsort(-weights, kind="stable")[:KEPT] if weights[k] > LEAST_WEIGHT
    ]
    if few is not readings:
        likely = [calibrate(fit.rig, readings, GUESS, start=fit) for fit in likely]
        likely.sort(key=lambda fit: -fit.evidence)
    return likely, relative_weights(likely)


def relative_weights(fits):
    """Return the weight of each fit by its evidence, summing to 1, (n,)."""
    evidence = np.array([fit.evidence for fit in fits])
    weights = np.exp(evidence - evidence.max())
    return weights / weights.sum()
