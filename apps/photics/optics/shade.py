"""What rocks leave of the light: which boxes stand in the way of which ray, and how much passes."""

import math
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.water import WATER_INDEX

# The emitters stand for patches of the lit face: a ray within this much of a corner is dimmed in
# part [cm], house rule. A hard edge would draw steps.
EDGE_CM = 1.0
# Tangent of the steepest angle a flat surface lets into the water [1].
REACH_PER_DEPTH = 1.0 / math.sqrt(WATER_INDEX**2 - 1.0)


@dataclass(frozen=True)
class Blocks:
    """Pairs of an image and a rock, or a mirror image of one, that light may meet on its way.

    They depend on points and rocks only, so a fit finds them once.
    """

    row: np.ndarray  # (p,) which image, ascending
    start: np.ndarray  # (q,) first pair of each image that has any
    shaded: np.ndarray  # (q,) those images
    low_cm: np.ndarray  # (p, 3) the box's nearest corner in x, y, depth
    high_cm: np.ndarray  # (p, 3)


def fold_positions(coordinate_cm, size_cm, image):
    """Return the unfolded coordinate of a point in image box number `image` [cm]."""
    return image * size_cm + (coordinate_cm if image % 2 == 0 else size_cm - coordinate_cm)


def find_blocks(images, tank, rocks):
    """Return the Blocks of optics.Images among rocks, or None where nothing is in the way.

    Water lets light in no flatter than its critical angle, so only rocks close beside the way
    down to an image can dim it; a ray meets the mirror images of the boxes it comes through.
    """
    rows, lows, highs = [], [], []
    for rock in rocks:
        sides = (
            (rock.x_cm, rock.x_cm + rock.length_cm),
            (rock.y_cm, rock.y_cm + rock.width_cm),
        )
        above = images.depth_cm[:, 0] - rock.depth_cm
        beside = above * REACH_PER_DEPTH + EDGE_CM
        for i in np.unique(images.box_x):
            x = sorted(fold_positions(end, tank.length_cm, i) for end in sides[0])
            near_x = (above > 0.0) & crosses(images.box_x, i) & close(images.x_cm, x, beside)
            for j in np.unique(images.box_y):
                y = sorted(fold_positions(end, tank.width_cm, j) for end in sides[1])
                near = near_x & crosses(images.box_y, j) & close(images.y_cm, y, beside)
                found = np.nonzero(near)[0]
                rows.append(found)
                lows.append(np.tile((x[0], y[0], rock.depth_cm), (len(found), 1)))
                bottom = rock.depth_cm + rock.height_cm
                highs.append(np.tile((x[1], y[1], bottom), (len(found), 1)))
    row = np.concatenate(rows) if rows else np.zeros(0, int)
    if not len(row):
        return None
    order = np.argsort(row, kind="stable")
    shaded, start = np.unique(row[order], return_index=True)
    ends = (np.concatenate(part)[order].astype(images.x_cm.dtype) for part in (lows, highs))
    return Blocks(row[order], start, shaded, *ends)


def crosses(box, image):
    """Return whether a ray from box 0 to box number `box` (k,) comes through number `image`."""
    return (np.minimum(box, 0) <= image) & (image <= np.maximum(box, 0))


def close(at_cm, ends, beside_cm):
    """Return whether places (k, 1) lie between two ends or within `beside_cm` (k,) of them."""
    at = at_cm[:, 0]
    return (at > ends[0] - beside_cm) & (at < ends[1] + beside_cm)


def rock_shade(images, enter_x, enter_y):
    """Return the share of each ray (k, e) that passes the rocks in its way [1]."""
    blocks, row = images.blocks, images.blocks.row
    from_x, from_y, depth = enter_x[row], enter_y[row], images.depth_cm[row]
    way_x, way_y = images.x_cm[row] - from_x, images.y_cm[row] - from_y
    low, high = blocks.low_cm, blocks.high_cm
    inside = slab_overlap(
        (0.0, depth, low[:, 2:], high[:, 2:]),
        (from_x, way_x, low[:, :1], high[:, :1]),
        (from_y, way_y, low[:, 1:2], high[:, 1:2]),
    )
    length = np.sqrt(way_x * way_x + way_y * way_y + depth * depth)
    passed = np.ones(enter_x.shape, enter_x.dtype)
    through = 1.0 - np.minimum(inside * length / EDGE_CM, 1.0)
    passed[blocks.shaded] = np.multiply.reduceat(through, blocks.start, axis=0)
    return passed


def slab_overlap(*axes):
    """Return the share of a ray inside a box, each axis (from, way, low, high) [1]."""
    first, last = 0.0, 1.0
    for begin, way, low, high in axes:
        way = np.where(np.abs(way) < 1e-9, 1e-9, way)
        a, b = (low - begin) / way, (high - begin) / way
        first = np.maximum(first, np.minimum(a, b))
        last = np.minimum(last, np.maximum(a, b))
    return np.maximum(last - first, 0.0)
