"""What rocks leave of the light: which boxes stand in the way of which ray, and how much passes.

Solid geometry, with soft edges of EDGE_CM.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatOrArray, IntArray, RealArray
from apps.photics.ground.scene import Rock, Tank
from apps.photics.ground.water import WATER_INDEX

# The emitters stand for patches of the lit face: a ray within this much of a corner is dimmed in
# part [cm]: chosen, because a hard edge would draw steps.
EDGE_CM = 1.0
# Tangent of the flattest ray a flat surface lets into the water [1], by Snell's law; exact.
REACH_PER_DEPTH = 1.0 / math.sqrt(WATER_INDEX**2 - 1.0)


@dataclass(frozen=True)
class SoftRock(Rock):
    """A rock whose shadow fades in over so much of its box along the ray, as a mound's does."""

    edge_cm: float = EDGE_CM


def edge_of(rock: Rock) -> float:
    """Return over how much of a rock's box along a ray its shadow fades in [cm]."""
    return rock.edge_cm if isinstance(rock, SoftRock) else EDGE_CM


class Unfolded(Protocol):
    """What rocks ask of points and their images; `beam.Images` is one."""

    @property
    def x_cm(self) -> RealArray:
        """Return where they are along the length, (k, 1) [cm]."""
        ...

    @property
    def y_cm(self) -> RealArray:
        """Return where they are front to back, (k, 1) [cm]."""
        ...

    @property
    def depth_cm(self) -> RealArray:
        """Return how deep they are, (k, 1) [cm]."""
        ...

    @property
    def box_x(self) -> IntArray:
        """Return the number of each image box along x, (k,)."""
        ...

    @property
    def box_y(self) -> IntArray:
        """Return the number of each image box along y, (k,)."""
        ...


@dataclass(frozen=True)
class Blocks:
    """Pairs of an image and a rock, or a mirror image of one, that light may meet on its way.

    They depend on points and rocks only, so a fit finds them once.
    """

    row: IntArray  # (p,) which image, ascending
    start: IntArray  # (q,) first pair of each image that has any
    shaded: IntArray  # (q,) those images
    low_cm: RealArray  # (p, 3) the box's nearest corner in x, y, depth
    high_cm: RealArray  # (p, 3)
    edge_cm: RealArray  # (p, 1) over how much of the box along a ray its shadow fades in


def fold_positions(coordinate_cm: FloatOrArray, *, size_cm: float, image: int) -> FloatOrArray:
    """Return the unfolded coordinate of points in an image box, of their shape [cm].

    `coordinate_cm` scalar or array in the tank along one axis, `size_cm` of the tank along it [cm];
    `image` number of the box, 0 for the tank itself. Odd boxes are mirrored: the method of images.
    """
    return image * size_cm + (coordinate_cm if image % 2 == 0 else size_cm - coordinate_cm)


def find_blocks(images: Unfolded, tank: Tank, rocks: Iterable[Rock]) -> Blocks | None:
    """Return the Blocks of Images among the rocks of a tank, or None where nothing is in the way.

    Water lets light in no flatter than its critical angle, so only rocks close beside the way
    down to an image can dim it; a ray meets the mirror images of the boxes it comes through.
    """
    rows, lows, highs, edges = [], [], [], []
    boxes_x, boxes_y = np.unique(images.box_x).tolist(), np.unique(images.box_y).tolist()
    for rock in rocks:
        sides = (
            (rock.x_cm, rock.x_cm + rock.length_cm),
            (rock.y_cm, rock.y_cm + rock.width_cm),
        )
        above = images.depth_cm[:, 0] - rock.depth_cm
        beside = above * REACH_PER_DEPTH + EDGE_CM
        bottom, soft = rock.depth_cm + rock.height_cm, edge_of(rock)
        for i in boxes_x:
            x = sorted(fold_positions(end, size_cm=tank.length_cm, image=i) for end in sides[0])
            near_x = close(images.x_cm, x, beside_cm=beside) & crosses(images.box_x, i)
            # A rock is near few images along the length: only these are asked about further.
            some = np.nonzero(near_x & (above > 0.0))[0]
            if not len(some):
                continue
            y_cm, box_y, beside_some = images.y_cm[some], images.box_y[some], beside[some]
            for j in boxes_y:
                y = sorted(fold_positions(end, size_cm=tank.width_cm, image=j) for end in sides[1])
                met = some[crosses(box_y, j) & close(y_cm, y, beside_cm=beside_some)]
                rows.append(met)
                lows.append(np.tile((x[0], y[0], rock.depth_cm), (len(met), 1)))
                highs.append(np.tile((x[1], y[1], bottom), (len(met), 1)))
                edges.append(np.full((len(met), 1), soft))
    row = np.concatenate(rows) if rows else np.zeros(0, int)
    if not len(row):
        return None
    order = np.argsort(row, kind="stable")
    shaded, start = np.unique(row[order], return_index=True)
    low, high, edge = (
        np.concatenate(part)[order].astype(images.x_cm.dtype) for part in (lows, highs, edges)
    )
    return Blocks(row[order], start, shaded, low, high, edge)


def crosses(box: IntArray, image: int) -> BoolArray:
    """Return whether a ray from box 0 to box number `box` (k,) passes number `image`, (k,)."""
    through: BoolArray = (np.minimum(box, 0) <= image) & (image <= np.maximum(box, 0))
    return through


def close(at_cm: RealArray, ends: list[float], *, beside_cm: RealArray) -> BoolArray:
    """Return whether places lie between two ends or near them, (k,).

    `at_cm` (k, 1) along one axis, `ends` the lower and the higher, `beside_cm` (k,) how near counts
    [cm].
    """
    at = at_cm[:, 0]
    near: BoolArray = (at > ends[0] - beside_cm) & (at < ends[1] + beside_cm)
    return near


def rock_shade(
    images: Unfolded, blocks: Blocks, *, enter_x: RealArray, enter_y: RealArray
) -> RealArray:
    """Return the share of each ray that passes the rocks in its way, (k, e) [1].

    `blocks` are those of the images, `enter_x` and `enter_y` (k, e) where rays to the images enter
    the water [cm].
    """
    row = blocks.row
    from_x, from_y, depth = enter_x[row], enter_y[row], images.depth_cm[row]
    way_x, way_y = images.x_cm[row] - from_x, images.y_cm[row] - from_y
    low, high = blocks.low_cm, blocks.high_cm
    inside = slab_overlap(
        (0.0, depth, low[:, 2:], high[:, 2:]),
        (from_x, way_x, low[:, :1], high[:, :1]),
        (from_y, way_y, low[:, 1:2], high[:, 1:2]),
    )
    length = np.sqrt(way_x * way_x + way_y * way_y + depth * depth)
    passed: RealArray = np.ones(enter_x.shape, enter_x.dtype)
    through = 1.0 - np.minimum(inside * length / blocks.edge_cm, 1.0)
    passed[blocks.shaded] = np.multiply.reduceat(through, blocks.start, axis=0)
    return passed


def slab_overlap(
    *axes: tuple[RealArray | float, RealArray, RealArray | float, RealArray | float],
) -> RealArray:
    """Return the share of a ray inside a box, of the axes' shapes together [1].

    Each axis: where the ray begins, its way, and the box's low and high end [cm], arrays that
    broadcast. The slab method (Kay & Kajiya 1986, SIGGRAPH 20:269).
    """
    first: RealArray | float = 0.0
    last: RealArray | float = 1.0
    for begin, way, low, high in axes:
        way = np.where(np.abs(way) < 1e-9, 1e-9, way)
        a, b = (low - begin) / way, (high - begin) / way
        first = np.maximum(first, np.minimum(a, b))
        last = np.minimum(last, np.maximum(a, b))
    inside: RealArray = np.maximum(last - first, 0.0)
    return inside


def boxes_shade(
    rocks: Iterable[Rock], begin_cm: RealArray, end_cm: RealArray, depth_cm: RealArray
) -> RealArray:
    """Return the share of straight ways that pass all rocks, (m,) [1].

    `begin_cm` and `end_cm` (m, 2) in x and y, `depth_cm` (m, 2) at begin and end [cm].
    """
    way = np.concatenate([end_cm - begin_cm, depth_cm[:, 1:] - depth_cm[:, :1]], axis=1)
    begin = np.concatenate([begin_cm, depth_cm[:, :1]], axis=1)
    length = np.sqrt((way * way).sum(axis=1))
    passed: RealArray = np.ones_like(length)
    for rock in rocks:
        low = (rock.x_cm, rock.y_cm, rock.depth_cm)
        sizes = (rock.length_cm, rock.width_cm, rock.height_cm)
        inside = slab_overlap(
            *((begin[:, k], way[:, k], low[k], low[k] + sizes[k]) for k in range(3))
        )
        passed *= 1.0 - np.minimum(inside * length / edge_of(rock), 1.0)
    return passed
