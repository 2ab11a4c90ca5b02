"""What the readings span: a point beyond that is extrapolated."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.ground.scene import Rock, Tank, out_of_water

# Margin around the readings that still counts as within them [part of the box]: our own choice.
MARGIN_ACROSS = 0.15
MARGIN_DEPTH = 0.10
# Cells along each side whose middles are counted: chosen, fine enough for the strips along the
# panes.
CELLS = (40, 40, 20)


@dataclass(frozen=True)
class Span:
    """The readings' outline seen from above, widened by a margin, and their depth range."""

    sides: FloatArray  # (k, 3) [1, cm]: inside where sides[:, :2] @ xy + sides[:, 2] <= 0
    top_cm: float
    bottom_cm: float

    def beyond(self, points_cm: FloatArray) -> BoolArray:
        """Return True for each point (m, 3) that the readings do not span, (m,)."""
        level = points_cm[:, :2] @ self.sides[:, :2].T + self.sides[:, 2]
        depth = points_cm[:, 2]
        outside: BoolArray = np.any(level > 1e-9, axis=1)
        return outside | (depth < self.top_cm) | (depth > self.bottom_cm)


def span_of(points_cm: FloatArray, tank: Tank) -> Span:
    """Return the Span of readings at points (n, 3); one spot, line or plane works alike."""
    margin = MARGIN_ACROSS * np.array([tank.length_cm, tank.width_cm])
    corners = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) * margin
    spread = (points_cm[:, None, :2] + corners[None, :, :]).reshape(-1, 2)
    down = MARGIN_DEPTH * tank.depth_cm
    return Span(
        ConvexHull(spread).equations,
        float(points_cm[:, 2].min() - down),
        float(points_cm[:, 2].max() + down),
    )


def beyond_percent(span: Span, tank: Tank, rocks: Sequence[Rock]) -> float:
    """Return the part of the open water that a Span leaves out, rock not counted [%]."""
    sizes = (tank.length_cm, tank.width_cm, tank.depth_cm)
    axes = [size * (np.arange(n) + 0.5) / n for size, n in zip(sizes, CELLS, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    free = ~out_of_water(tank, rocks, *points.T)
    beyond = span.beyond(points)
    return 100.0 * float(beyond[free].mean() if free.any() else beyond.mean())
