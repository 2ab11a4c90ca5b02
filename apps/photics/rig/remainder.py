"""What a fitted rig leaves unexplained: rock shadows, odd optics, and how noisy readings are.

It is one Gaussian process; its deviation, its range and the noise are those under which the
readings foresee each other best.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Tank
from apps.photics.rig.residual import (
    Residual,
    distances,
    fit_residual,
    matern32,
    t_log_density,
)

# The remainder: rock shadows, odd optics. Its usual deviation [log PAR] and range [part of the
# box's side], and how much longer that is in depth [1]: our own choice.
REMAINDER = 0.05
REMAINDER_RANGE = 0.4
REMAINDER_DEPTH_RATIO = 1.5
# What is tried in their place, and factors on the noise [1]. Chosen with a floor, because few
# readings that happen to agree must not make an interval narrow.
REMAINDERS = (0.05, 0.07, 0.1, 0.15, 0.25)
REMAINDER_RANGES = (0.25, 0.4)
NOISE_FACTORS = (1.0, 1.3, 1.7, 2.2)
# How far from the usual they are before any reading [log]: our own choice.
SIZE_SPREAD, NOISE_SPREAD = 1.0, 0.5
# Readings by which these are chosen: chosen like those of the smooth map.
CHOOSING_READINGS = 200
# Degrees of freedom by which readings foresee each other [1]: chosen, because one bad reading must
# not decide.
FORESEEN_DEGREES = 4.0


@dataclass(frozen=True)
class Remainder:
    """What a rig leaves unexplained: its process, the noise (n,) given [1], and its factor."""

    gp: Residual
    noise: FloatArray
    noise_factor: float


def fit_remainder(
    tank: Tank,
    points_cm: FloatArray,
    values: FloatArray,
    *,
    noise_variance: FloatArray,
    basis: FloatArray,
    robust_weight: FloatArray,
) -> Remainder:
    """Return the Remainder under which the readings foresee each other best.

    `points_cm` (n, 3), `values` (n,) of log PAR beyond the prior rig's, their `noise_variance`
    (n,), `basis` (n, p) of unit parameters, `robust_weight` (n,) [1]. Deviation, range and noise
    are chosen by the leave-one-out density (Sundararajan & Keerthi 2001,
    doi:10.1162/089976601300014547) and a prior around the usual ones.
    """
    side = np.sqrt(tank.length_cm * tank.width_cm)
    # What a few hundred readings say of it, more would only repeat.
    few = np.linspace(0, len(values) - 1, min(len(values), CHOOSING_READINGS)).round().astype(int)
    trend = basis[few] @ basis[few].T
    best, highest = (REMAINDER, REMAINDER_RANGE, 1.0), -np.inf
    for share in REMAINDER_RANGES:
        lengths = remainder_lengths(side, share)
        smooth = matern32(distances(points_cm[few], points_cm[few], lengths))
        for deviation, factor in product(REMAINDERS, NOISE_FACTORS):
            gp = fit_residual(
                points_cm[few],
                values[few],
                noise_variance=noise_variance[few] * factor**2,
                variance=deviation**2,
                lengths=lengths,
                basis=basis[few],
                prior_variance=np.ones(basis.shape[1]),
                surface=deviation**2 * smooth + trend,
            )
            score = foreseen(gp, robust_weight[few]) + unusual(deviation, share, factor)
            if score > highest:
                best, highest = (deviation, share, factor), score
    deviation, share, factor = best
    gp = fit_residual(
        points_cm,
        values,
        noise_variance=noise_variance * factor**2,
        variance=deviation**2,
        lengths=remainder_lengths(side, share),
        basis=basis,
        prior_variance=np.ones(basis.shape[1]),
    )
    return Remainder(gp, noise_variance * factor**2, factor)


def remainder_lengths(side_cm: float, share: float) -> FloatArray:
    """Return the remainder's range along each axis by a `share` of the box's side, (3,) [cm].

    Geometry of the box: `side_cm` [cm], `share` [1].
    """
    lengths: FloatArray = np.array([1.0, 1.0, REMAINDER_DEPTH_RATIO]) * side_cm * share
    return lengths


def foreseen(gp: Residual, robust_weight: FloatArray) -> float:
    """Return the log density of each reading by the others, summed by `robust_weight` (n,) [1]."""
    misfit, variance = gp.leave_one_out()
    deviation = np.sqrt(variance)
    density = t_log_density(misfit / deviation, degrees=FORESEEN_DEGREES) - np.log(deviation)
    return float((robust_weight * density).sum())


def unusual(deviation: float, share: float, factor: float) -> float:
    """Return the log prior density of a remainder [1].

    Of its `deviation` [log PAR], its range, a `share` of the tank's side [1], and the `factor` on
    its noise [1].
    """
    size, range_, noise = np.log((deviation / REMAINDER, share / REMAINDER_RANGE, factor))
    return float(-0.5 * ((size / SIZE_SPREAD) ** 2 + (range_ / SIZE_SPREAD) ** 2)) - float(
        0.5 * (noise / NOISE_SPREAD) ** 2
    )
