"""What the readings span: a point beyond that is extrapolated."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.ground.scene import Tank

# Margin around the readings that still counts as within them [part of the box]: our own choice.
MARGIN_ACROSS = 0.15
MARGIN_DEPTH = 0.10


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
