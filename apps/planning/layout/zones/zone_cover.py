"""Water that lies in no zone of a question: how much of the floor, and where along the tank."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray
from apps.photics.ground.scene import Tank
from apps.photics.layout.question import Zone

# Cells that each side is looked at in [1]: chosen, because a hundredth of a side is less than a
# keeper plans by.
CELLS = 120
# A strip without a zone is named from this part of the side on [1], and from so many cm: chosen,
# because usual zones keep an eighth of the length free at each end.
GAP_LEAST, GAP_LEAST_CM = 0.15, 8.0


@dataclass(frozen=True)
class Gap:
    """A strip of the tank that no zone reaches, along one axis, from and to [cm]."""

    axis: str  # "x_cm" or "y_cm"
    from_cm: float
    to_cm: float
    side_cm: float

    @property
    def long_cm(self) -> float:
        """Return how long the strip is [cm]."""
        return self.to_cm - self.from_cm

    @property
    def words(self) -> str:
        """Return where it lies."""
        if self.from_cm <= 0.0:
            return "on the left" if self.axis == "x_cm" else "at the front"
        if self.to_cm >= self.side_cm - 1e-6:
            return "on the right" if self.axis == "x_cm" else "at the back"
        return "in between"


@dataclass(frozen=True)
class Cover:
    """How much of the floor lies under no zone [%], and the strips that are worth naming."""

    uncovered_percent: float
    gaps: tuple[Gap, ...]


def cover_of(tank: Tank, zones: Sequence[Zone]) -> Cover:
    """Return the Cover of zones, seen from above within the panes."""
    x, y = (middles(side) for side in (tank.length_cm, tank.width_cm))
    across, back = np.meshgrid(x, y, indexing="ij")
    water = ~tank.outside(across.ravel(), back.ravel()).reshape(across.shape)
    covered = np.zeros(across.shape, bool)
    for zone in zones:
        covered |= within(across, zone.x_cm) & within(back, zone.y_cm)
    open_water = water & ~covered
    held = covered & water
    bare_x, bare_y = (np.logical_not(np.any(held, axis=axis)) for axis in (1, 0))
    gaps = [*gaps_of("x_cm", bare_x, tank.length_cm), *gaps_of("y_cm", bare_y, tank.width_cm)]
    return Cover(100.0 * float(open_water.sum() / max(water.sum(), 1)), tuple(gaps))


def middles(side_cm: float) -> FloatArray:
    """Return the middles of CELLS parts of a side, (CELLS,) [cm]."""
    at: FloatArray = (np.arange(CELLS) + 0.5) / CELLS * side_cm
    return at


def within(values_cm: FloatArray, ends_cm: tuple[float, float]) -> BoolArray:
    """Return which values lie within a zone's range [cm]."""
    inside: BoolArray = (values_cm >= ends_cm[0]) & (values_cm <= ends_cm[1])
    return inside


def gaps_of(axis: str, bare: ArrayLike, side_cm: float) -> list[Gap]:
    """Return the Gaps along a side [cm] of cells, (CELLS,), that no zone reaches."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.asarray(bare, int), [0]))))
    gaps = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        gap = Gap(axis, start / CELLS * side_cm, end / CELLS * side_cm, side_cm)
        if gap.long_cm >= max(GAP_LEAST * side_cm, GAP_LEAST_CM) - 1e-9:
            gaps.append(gap)
    return gaps
