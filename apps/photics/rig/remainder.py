"""What a fitted rig leaves unexplained: rock shadows, odd optics, and how noisy readings are.

It is one Gaussian process. Its deviation and range against the noise are those under which the
readings foresee each other best; how large all deviations are together follows from how far the
readings then miss each other, so a tank that is not the model has the wider interval.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from apps.photics.ground.arrays import FloatArray, IntArray
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
REMAINDERS = (0.042, 0.05, 0.07, 0.1, 0.15, 0.25)
REMAINDER_RANGES = (0.25, 0.4)
NOISE_FACTORS = (1.0, 1.3, 1.7, 2.2)
# How far from the usual they are before any reading [log]: our own choice.
SIZE_SPREAD, NOISE_SPREAD = 0.5, 0.5
# How large all deviations are usually weighs as much as this many readings [1], and a reading far
# off counts as this many deviations off [1]. Chosen, because 20 and 4 made the intervals of tanks
# with a dozen readings wider and those of tanks with fifty no better (tests/benchmarks).
USUAL_READINGS, FARTHEST_DEVIATIONS = 40.0, 3.0
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
    side = float(np.sqrt(tank.length_cm * tank.width_cm))
    # What a few hundred readings say of it, more would only repeat.
    few = np.linspace(0, len(values) - 1, min(len(values), CHOOSING_READINGS)).round().astype(int)
    everything = Unexplained(points_cm, values, noise_variance, basis, side)
    law = likeliest_law(everything.part(few), robust_weight[few])
    full = noise_variance * law.noise_factor**2
    size = common_size(everything.process(law), full * (1.0 - robust_weight**2))
    gp = everything.process(law, size)
    return Remainder(gp, full * size**2, law.noise_factor * size)


class Law(NamedTuple):
    """A remainder's deviation [log PAR], range [part of the side] and the noise's factor [1]."""

    deviation: float
    share: float
    noise_factor: float


@dataclass(frozen=True)
class Unexplained:
    """Values beyond the prior rig's, as `fit_remainder` takes them."""

    points_cm: FloatArray  # (n, 3)
    values: FloatArray  # (n,) [log]
    noise_variance: FloatArray  # (n,) [log squared]
    basis: FloatArray  # (n, p) by unit parameters [log]
    side_cm: float

    def part(self, rows: IntArray) -> "Unexplained":
        """Return some of the values, by their rows (k,)."""
        return Unexplained(
            self.points_cm[rows],
            self.values[rows],
            self.noise_variance[rows],
            self.basis[rows],
            self.side_cm,
        )

    @cached_property
    def trend(self) -> FloatArray:
        """Return the covariance by the rig's parameters, (n, n) [log squared]."""
        return self.basis @ self.basis.T

    @cached_property
    def correlations(self) -> dict[float, FloatArray]:
        """Return the remainder's correlations (n, n) [1] by range, as far as they were needed."""
        return {}

    def correlation(self, share: float) -> FloatArray:
        """Return the remainder's correlation for a range, a `share` of the side [1], (n, n)."""
        if share not in self.correlations:
            lengths = remainder_lengths(self.side_cm, share)
            apart = distances(self.points_cm, self.points_cm, lengths)
            self.correlations[share] = matern32(apart)
        return self.correlations[share]

    def process(self, law: Law, size: float = 1.0) -> Residual:
        """Return the Residual under a Law, all its deviations larger by the factor `size` [1]."""
        variance = (law.deviation * size) ** 2
        return fit_residual(
            self.points_cm,
            self.values,
            noise_variance=self.noise_variance * (law.noise_factor * size) ** 2,
            variance=variance,
            lengths=remainder_lengths(self.side_cm, law.share),
            basis=self.basis,
            prior_variance=np.full(self.basis.shape[1], size**2),
            surface=variance * self.correlation(law.share) + size**2 * self.trend,
        )


def likeliest_law(some: Unexplained, robust_weight: FloatArray) -> Law:
    """Return the Law under which the values foresee each other best.

    `robust_weight` (n,) of each [1]. Climbs from the usual law to its best neighbour on the grid
    of what is tried, until none is better.
    """
    grid = (REMAINDERS, REMAINDER_RANGES, NOISE_FACTORS)
    scores: dict[tuple[int, ...], float] = {}

    def score(at: tuple[int, ...]) -> float:
        if at not in scores:
            law = Law(*(tried[k] for tried, k in zip(grid, at, strict=True)))
            scores[at] = foreseen(some.process(law), robust_weight) + unusual(*law)
        return scores[at]

    usual = (REMAINDERS.index(REMAINDER), REMAINDER_RANGES.index(REMAINDER_RANGE), 0)
    best: tuple[int, ...] = usual
    while True:
        # Neighbours along every axis and across: a larger remainder may need less noise.
        near = (
            range(max(k - 1, 0), min(k + 2, len(tried)))
            for k, tried in zip(best, grid, strict=True)
        )
        highest = max(product(*near), key=score)
        if highest == best:
            return Law(*(tried[k] for tried, k in zip(grid, best, strict=True)))
        best = highest


def common_size(gp: Residual, added_variance: FloatArray) -> float:
    """Return by what factor all deviations are larger than they were taken for [1].

    `added_variance` (n,) of readings of little weight [log squared]. The scale of a Student-t
    process (Shah, Wilson & Ghahramani 2014, AISTATS) by its leave-one-out misfits, each cut off at
    FARTHEST_DEVIATIONS (Huber 1964, doi:10.1214/aoms/1177703732).
    """
    misfit, variance = gp.leave_one_out()
    square = np.minimum(misfit**2 / (variance - added_variance), FARTHEST_DEVIATIONS**2)
    return float(np.sqrt((USUAL_READINGS + square.sum()) / (USUAL_READINGS + len(square))))


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
