"""A cut of the light with finer nodes where lines pass, so that they are drawn without corners.

Every node that a line lies near is worked out, none smoothed: a rock's shadow keeps its edge.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from apps.drawing.level import PointLight
from apps.lightmap.page.looks import points_of
from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.ground.estimate import GridEstimate, SectionEstimate

Cut = TypeVar("Cut", GridEstimate, SectionEstimate)
# What an estimate says of its nodes, as numbers and as yes or no.
PAR_FIELDS, FLAGS = ("par_umol", "low_umol", "high_umol"), ("extrapolated", "in_rock")


def refined(light: PointLight, cut: Cut, levels: Sequence[float]) -> Cut:
    """Return a cut (ny, nx) with a node between every two, (2 ny - 1, 2 nx - 1).

    In cells that a line of one of the levels crosses the new nodes are worked out; where none
    passes nothing is drawn of them, and they lie midway [umol m-2 s-1].
    """
    near = beside_lines(cut.par_umol, levels)
    axes = ("x_cm", "y_cm" if isinstance(cut, GridEstimate) else "depth_cm")
    # Which fields there are depends on the kind of cut.
    finer: dict[str, Any] = {name: halved(getattr(cut, name)) for name in axes}
    finer |= {name: between_nodes(getattr(cut, name)) for name in PAR_FIELDS}
    finer |= {name: repeated(getattr(cut, name)) for name in FLAGS}
    fine = replace(cut, **finer)
    if near.any():
        there = light.at(points_of(fine)[near.ravel()])
        for name in (*PAR_FIELDS, *FLAGS):
            getattr(fine, name)[near] = getattr(there, name)
    return fine


def beside_lines(values: FloatArray, levels: Sequence[float]) -> BoolArray:
    """Return which new nodes (2 ny - 1, 2 nx - 1) lie in a cell that a level's line crosses."""
    corners = np.stack([values[:-1, :-1], values[1:, :-1], values[:-1, 1:], values[1:, 1:]])
    below, above = (np.searchsorted(levels, end) for end in (corners.min(0), corners.max(0)))
    crossed = below != above
    near = np.zeros((2 * values.shape[0] - 1, 2 * values.shape[1] - 1), bool)
    for down in range(3):
        for across in range(3):
            rows, columns = crossed.shape
            near[down : down + 2 * rows : 2, across : across + 2 * columns : 2] |= crossed
    near[::2, ::2] = False  # those are known
    return near


def halved(axis: FloatArray) -> FloatArray:
    """Return an axis (n,) with a place midway between every two, (2 n - 1,)."""
    fine = np.empty(2 * len(axis) - 1)
    fine[::2], fine[1::2] = axis, (axis[:-1] + axis[1:]) / 2.0
    return fine


def between_nodes(values: FloatArray) -> FloatArray:
    """Return values (ny, nx) with those midway between them, (2 ny - 1, 2 nx - 1)."""
    rows = np.apply_along_axis(halved, 0, values)
    return np.apply_along_axis(halved, 1, rows)


def repeated(flags: BoolArray) -> BoolArray:
    """Return flags (ny, nx) on the finer nodes: a new node has that of the one before it."""
    return np.repeat(np.repeat(flags, 2, axis=0), 2, axis=1)[:-1, :-1]
