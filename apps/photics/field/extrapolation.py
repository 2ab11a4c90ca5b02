"""How far the readings carry: a point beyond what they span is extrapolated."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

# Margin around the readings that still counts as within them [share of the box], house rule.
MARGIN_ACROSS = 0.15
MARGIN_DEPTH = 0.10


@dataclass(frozen=True)
class Reach:
    """The readings' outline seen from above, widened by a margin, and their depth range."""

    sides: np.ndarray  # (k, 3): inside where sides[:, :2] @ xy + sides[:, 2] <= 0
    top_cm: float
    bottom_cm: float

    def beyond(self, points_cm):
        """Return True for each point (m, 3) that the readings do not span, (m,)."""
        level = points_cm[:, :2] @ self.sides[:, :2].T + self.sides[:, 2]
        depth = points_cm[:, 2]
        return (level > 1e-9).any(1) | (depth < self.top_cm) | (depth > self.bottom_cm)


def reach_of(points_cm, tank):
    """Return the Reach of readings (n, 3); works for one spot, one line or one plane alike."""
    margin = MARGIN_ACROSS * np.array([tank.length_cm, tank.width_cm])
    corners = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) * margin
    spread = (points_cm[:, None, :2] + corners[None, :, :]).reshape(-1, 2)
    down = MARGIN_DEPTH * tank.depth_cm
    return Reach(
        ConvexHull(spread).equations,
        float(points_cm[:, 2].min() - down),
        float(points_cm[:, 2].max() + down),
    )
