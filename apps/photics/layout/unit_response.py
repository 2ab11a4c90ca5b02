"""What unit responses at a question's points share: how the points mirror, what the bottom adds."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import FloatArray, IntArray
from apps.photics.ground.scene import Tank
from apps.photics.layout.question import Question
from apps.photics.optics.bottom import BOTTOM_NODES, bottom_return

# Points nearer than this are one and the same [cm]: chosen, because it is above the dust of their
# sums.
SAME_CM = 1e-6


def mirrors(question: Question, points_cm: FloatArray) -> tuple[IntArray | None, IntArray | None]:
    """Return for x and y the order (n,) that mirrors the points (n, 3) [cm] onto themselves.

    None where there is no such order.

    Without rocks a fixture lights a symmetric set of points alike from both sides, if its optic
    is alike to both sides.
    """
    tank = question.tank
    if not tank.is_box or tank.braces or tank.overflow:
        return None, None
    orders: list[IntArray | None] = []
    optics = [one.optic for one in question.candidates if one.optic is not None]
    sides = [all(optic.is_mirrored(axis) for optic in optics) for axis in (0, 1)]
    allowed = (sides[0], sides[1] and tank.back_pane == "clear")
    for axis, side in enumerate((tank.length_cm, tank.width_cm)):
        order = None
        if allowed[axis] and not question.rocks:
            other = points_cm.copy()
            other[:, axis] = side - other[:, axis]
            gap = np.abs(points_cm[:, None, :] - other[None, :, :]).max(axis=-1)
            if gap.min(axis=1).max() < SAME_CM:
                order = gap.argmin(axis=1)
        orders.append(order)
    return orders[0], orders[1]


@dataclass(frozen=True)
class LitCells:
    """What the bottom's return needs to know of a rig, where each cell is lit by itself."""

    tank: Tank
    many: int
    lit_bottom: FloatArray  # (cells, F) [intensity/cm2]
    open_bottom: FloatArray  # (cells, F) [intensity/cm2]


def bottom_kernel(points_cm: FloatArray, tank: Tank) -> FloatArray:
    """Return PAR at points per unit of light on each cell of the bottom, (n, cells) [1].

    `points_cm` (n, 3) in the tank's frame [cm].

    What the bottom sends back is linear in the light on its cells, so it is worked out for each
    cell alone once, then multiplied.
    """
    cells = BOTTOM_NODES[0] * BOTTOM_NODES[1]
    alone = LitCells(tank, cells, lit_bottom=np.eye(cells), open_bottom=np.zeros((cells, cells)))
    return bottom_return(points_cm, alone)
