"""Which fixtures could have made these readings: a plausible set, when the keeper names none.

Rows of one to a few like fixtures along the length, at several heights and beams, are first held
against the readings as they are; the best of every number of fixtures are fitted. How well each
explains the readings, for its freedom, is its evidence (Laplace's approximation, MacKay 1992,
doi:10.1162/neco.1992.4.3.415). The likely ones are kept together, weighted, so what the readings
cannot tell apart stays in the interval.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from apps.photics.field.readings import Readings
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.rig.calibration import DEGREES, Calibrated, calibrate
from apps.photics.rig.optic_kinds import EVIDENCE_POWER
from apps.photics.rig.prior import PriorDeviations
from apps.photics.rig.rig import Rig

# One fixture lights between these lengths of tank [cm], most often about USUAL_CM, give or take a
# factor of exp(USUAL_SPREAD) [log]: common practice, from memory, no published source.
SHORTEST_CM, LONGEST_CM = 28.0, 90.0
USUAL_CM, USUAL_SPREAD = 45.0, 0.28
# Numbers of fixtures tried beyond the fewest, and each row's heights and beams: our own choice of
# what is usual.
MORE_AT_MOST = 4
HEIGHTS_CM = (13.0, 20.0, 28.0, 38.0)
BEAMS_DEG = (40.0, 60.0, 90.0, 120.0)
# Lit face along and across: chosen as usual, because its sides are fitted and change little beside
# height and beam.
FACE_CM = (22.0, 18.0)
# A guessed rig may move as a whole, while its fixtures stay alike and in their row: keepers hang
# fixtures over the middle of what they light, within a few centimetres. Our own choice.
GUESS = PriorDeviations(
    gain=0.1,
    shift_x_cm=1.8,
    shift_y_cm=1.2,
    height_cm=1.5,
    common_x_cm=2.0,
    common_y_cm=1.5,
    common_height_cm=4.0,
    beam=0.3,
    face=0.25,
)
# Readings the search looks at: chosen for speed, because the kept rigs are fitted to all.
SEARCH_READINGS = 60
TRIED_READINGS = 30
# Misfit a rig may show before it is fitted [log PAR]: chosen wide, because its place and beam are
# coarse.
COARSE_NOISE = 0.2
# Rigs fitted a little for each number of fixtures, the steps they get, how many go on, and how many
# are kept: chosen for speed, our own choice.
TRIED_EACH, TRIED_STEPS = 3, 4
FINALISTS = 6
KEPT = 6
# Rigs of less weight are left out [1]: our own choice.
LEAST_WEIGHT = 0.04


def candidate_rigs(tank: Tank, rocks: Sequence[Rock] = ()) -> list[Rig]:
    """Return plausible rigs for a tank by their number of fixtures, in a fixed order."""
    fewest = max(1, int(np.ceil(tank.length_cm / LONGEST_CM - 0.5)))
    most = max(fewest, round(tank.length_cm / SHORTEST_CM))
    rigs = []
    for many in range(fewest, min(most, fewest + MORE_AT_MOST) + 1):
        middles = (np.arange(many) + 0.5) / many * tank.length_cm
        for height, beam in product(HEIGHTS_CM, BEAMS_DEG):
            row = [Fixture(x, across(tank, x), height, beam, *FACE_CM) for x in middles]
            rigs.append(Rig(tank, row, rocks))
    return rigs


def across(tank: Tank, x_cm: float) -> float:
    """Return the middle of the water from front to back at one place along it [cm]."""
    if tank.is_box:
        return tank.width_cm / 2
    return sum(tank.rim.chord_cm(x_cm=x_cm)) / 2


def usual_number(rig: Rig) -> float:
    """Return the log prior of a rig's number of fixtures for its tank [1]."""
    each_cm = rig.tank.length_cm / rig.many
    return float(-0.5 * (np.log(each_cm / USUAL_CM) / USUAL_SPREAD) ** 2)


def thin_out(readings: Readings, many: int) -> Readings:
    """Return at most `many` of the Readings, spread evenly over their order along the box."""
    if len(readings.par_umol) <= many:
        return readings
    keep = np.linspace(0, len(readings.par_umol) - 1, many).round().astype(int)
    return replace(
        readings,
        points_cm=readings.points_cm[keep],
        par_umol=readings.par_umol[keep],
        log_par=readings.log_par[keep],
        extra_variance=readings.extra_variance[keep],
        count=readings.count[keep],
        scale_basis=readings.scale_basis[keep],
    )


def guess_rigs(
    readings: Readings, tank: Tank, rocks: Sequence[Rock] = ()
) -> tuple[list[Calibrated], FloatArray]:
    """Return the likely rigs Calibrated on Readings and their weights (k,) [1], likeliest first."""
    few = thin_out(readings, SEARCH_READINGS)
    fewer = thin_out(few, TRIED_READINGS)
    tried = [calibrate(rig, fewer, GUESS, steps=TRIED_STEPS) for rig in screen(few, tank, rocks)]
    tried.sort(key=lambda fit: -belief(fit))
    finals = [calibrate(fit.rig, few, GUESS, start=fit) for fit in tried[:FINALISTS]]
    weights = relative_weights(finals)
    likely = [
        finals[k] for k in np.argsort(-weights, kind="stable")[:KEPT] if weights[k] > LEAST_WEIGHT
    ]
    if few is not readings:
        likely = [calibrate(fit.rig, readings, GUESS, start=fit) for fit in likely]
        likely.sort(key=lambda fit: -belief(fit))
    return likely, relative_weights(likely)


def as_in(
    rig: Rig, models: Sequence[Calibrated], readings: Readings
) -> tuple[list[Calibrated], FloatArray]:
    """Return likely rigs, fitted before, with the rocks and the ring of one, and their weights.

    The weights (k,) [1].
    """
    fits = []
    for fit in models:
        other = fit.rig.under(fit.rig.tank, rig.rocks).ringed(rig.ring)
        fits.append(calibrate(other, readings, GUESS, start=fit))
    fits.sort(key=lambda fit: -belief(fit))
    return fits, relative_weights(fits)


def screen(readings: Readings, tank: Tank, rocks: Sequence[Rock]) -> list[Rig]:
    """Return the rigs that come nearest the readings unfitted, a few of each number."""
    rigs = candidate_rigs(tank, rocks)
    images = rigs[0].images(readings.points_cm)
    best: dict[int, list[tuple[float, Rig]]] = {}
    for rig in rigs:
        light = rig.ray_light(images, rig.nominal()) @ rig.member.sum(axis=1)
        misfit = readings.log_par - np.log(images.summed(light) + 1e-12)
        misfit -= np.median(misfit)
        loss = np.log1p((misfit / COARSE_NOISE) ** 2 / DEGREES).sum()
        best.setdefault(rig.many, []).append((float(loss), rig))
    return [
        rig
        for many in sorted(best)
        for _, rig in sorted(best[many], key=lambda pair: pair[0])[:TRIED_EACH]
    ]


def belief(fit: Calibrated) -> float:
    """Return how likely a fitted rig is, by evidence and how usual its number is [log]."""
    return EVIDENCE_POWER * fit.evidence + usual_number(fit.rig)


def relative_weights(fits: Sequence[Calibrated]) -> FloatArray:
    """Return the weight of each fit by its evidence, summing to 1, (k,) [1]."""
    likely = np.array([belief(fit) for fit in fits])
    weights = np.exp(likely - likely.max())
    relative: FloatArray = weights / weights.sum()
    return relative
