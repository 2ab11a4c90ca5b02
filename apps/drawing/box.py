"""The projection of the box of water at a slant, and what stands in it and hangs above.

Parallel: the box is turned about the plumb line, then tipped towards the eye, so lengths along
an axis stay comparable all over the drawing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from apps.drawing.contours import line_path
from apps.drawing.frame import DRAWING_WIDTH
from apps.photics.ground.outline import Outline
from apps.photics.ground.scene import Brace, Fixture, Rock
from apps.photics.optics.lit_face import hung_corners_cm

# How far the eye stands above the horizon [degrees].
TIP_DEG = 22.0
# A look square at a pane hides the sides: every view is turned on by this much [degrees].
ASKEW_DEG = 14.0
MARGIN, HEIGHT_MAX = 14.0, 420.0
# Panes that bend by less than 25 degrees are drawn as one curve [cosine]: chosen, so that a curve
# told by a few corners has no edges.
SHARP_COSINE = 0.906
# Corners of a box by (right, back, down), and the faces that can be seen besides the top.
CORNERS = np.array([(i, j, k) for k in (0, 1) for j in (0, 1) for i in (0, 1)], float)
TOP = (0, 1, 3, 2)
SIDES = ((0, 1, 5, 4), (2, 3, 7, 6), (0, 2, 6, 4), (1, 3, 7, 5))
SIDE_DIRECTIONS = np.array([(0, -1), (0, 1), (-1, 0), (1, 0)], float)
EDGES = ((0, 1), (2, 3), (4, 5), (6, 7), (0, 2), (1, 3), (4, 6), (5, 7), (0, 4), (1, 5), (2, 6),
         (3, 7))  # fmt: skip


@dataclass(frozen=True)
class Slant:
    """Where points of the tank lie on the drawing."""

    across: NDArray[np.float64]  # (3,): drawing units per cm of x, y, depth
    down: NDArray[np.float64]
    left: float
    top: float
    angle: float  # how far the eye has walked round the tank [rad]

    def at(self, points_cm: ArrayLike) -> NDArray[np.float64]:
        """Return drawing places (n, 2) of points (n, 3) [cm]."""
        points = np.asarray(points_cm, float)
        return np.stack([points @ self.across + self.left, points @ self.down + self.top], axis=-1)

    def path(self, points_cm: ArrayLike) -> str:
        """Return the closed path round points (n, 3) [cm]."""
        return line_path(self.at(points_cm)) + "Z"


def slant_for(turn: int, points_cm: NDArray[np.float64]) -> tuple["Slant", str]:
    """Return the Slant that shows all points (n, 3) `turn` eighths round, and its view box."""
    angle = math.radians(45.0 * turn + ASKEW_DEG)
    tip = math.radians(TIP_DEG)
    # The eye walks to the right: what is right of the middle comes nearer.
    across = np.array([math.cos(angle), math.sin(angle), 0.0])
    down = np.array(
        [math.sin(angle) * math.sin(tip), -math.cos(angle) * math.sin(tip), math.cos(tip)]
    )
    x, y = points_cm @ across, points_cm @ down
    room = DRAWING_WIDTH - 2 * MARGIN
    scale = min(room / np.ptp(x), HEIGHT_MAX / np.ptp(y))
    left = MARGIN - x.min() * scale + (room - np.ptp(x) * scale) / 2
    # Room at the foot for the word below the front edge.
    height = np.ptp(y) * scale + 2 * MARGIN + 10
    slant = Slant(across * scale, down * scale, left, MARGIN - y.min() * scale, angle)
    return slant, f"0 0 {DRAWING_WIDTH:.0f} {height:.0f}"


def facing(angle: float, direction: ArrayLike) -> bool:
    """Return whether an upright pane that looks along a direction (2,) is on the eye's side."""
    return float(np.dot(direction, (math.sin(angle), -math.cos(angle)))) > 0


def edges(slant: Slant, size_cm: NDArray[np.float64]) -> tuple[str, str]:
    """Return the paths of the box's edges behind the water and before it."""
    hidden = set(range(8))
    for side, direction in zip(SIDES, SIDE_DIRECTIONS, strict=True):
        if facing(slant.angle, direction):
            hidden -= set(side)
    hidden -= set(TOP)
    places = slant.at(CORNERS * size_cm)
    paths: dict[bool, list[str]] = {True: [], False: []}
    for start, end in EDGES:
        paths[start in hidden or end in hidden].append(line_path(places[[start, end]]))
    return "".join(paths[True]), "".join(paths[False])


def prism_edges(slant: Slant, outline: Outline, depth_cm: float) -> tuple[str, str]:
    """Return the paths of the edges, behind the water and before it, of a tank that is no box.

    Where panes bend little from one to the next, only the last one seen has an upright edge.
    """
    seen = [facing(slant.angle, normal) for normal in outline.normals]
    paths: dict[bool, list[str]] = {True: [], False: []}
    for k, (x, y) in enumerate(outline.corners_cm):
        bends = float(outline.normals[k - 1] @ outline.normals[k]) < SHARP_COSINE
        if bends or seen[k - 1] != seen[k]:
            upright = line_path(slant.at([(x, y, 0.0), (x, y, depth_cm)]))
            paths[seen[k - 1] or seen[k]].append(upright)
        foot = [(*outline.begins[k], depth_cm), (*outline.ends[k], depth_cm)]
        paths[seen[k]].append(line_path(slant.at(foot)))
    rim = slant.path([(x, y, 0.0) for x, y in outline.corners_cm])
    return "".join(paths[False]), "".join([*paths[True], rim])


def rock_faces(
    slant: Slant, rocks: Sequence[Rock], *, top_cm: float, bottom_cm: float
) -> tuple[tuple[str, str], ...]:
    """Return the visible faces of the rocks between two depths [cm], the furthest rock first."""
    faces = []
    away = (-math.sin(slant.angle), math.cos(slant.angle))
    furthest_first = sorted(rocks, key=lambda r: -(r.x_cm * away[0] + r.y_cm * away[1]))
    for rock in furthest_first:
        upper, lower = max(rock.depth_cm, top_cm), min(rock.depth_cm + rock.height_cm, bottom_cm)
        if upper >= lower:
            continue
        corner = np.array([rock.x_cm, rock.y_cm, upper])
        corners = corner + CORNERS * (rock.length_cm, rock.width_cm, lower - upper)
        for side, direction in zip(SIDES, SIDE_DIRECTIONS, strict=True):
            if facing(slant.angle, direction):
                faces.append((slant.path(corners[list(side)]), "side"))
        faces.append((slant.path(corners[list(TOP)]), "top"))
    return tuple(faces)


def brace_paths(slant: Slant, braces: Sequence[Brace]) -> tuple[str, ...]:
    """Return the path round each brace at the surface."""
    return tuple(
        slant.path(
            CORNERS[list(TOP)] * (brace.length_cm, brace.width_cm, 0.0)
            + (brace.x_cm, brace.y_cm, 0.0)
        )
        for brace in braces
    )


def face_of(fixture: Fixture) -> NDArray[np.float64]:
    """Return the corners (4, 3) of a fixture's lit face [cm]; above the water is negative."""
    return np.array([(x, y, -height) for x, y, height in hung_corners_cm(fixture)])


def drop_of(face: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the plumb line (2, 3) from the middle of a face down to the water [cm]."""
    middle = face.mean(axis=0)
    return np.array([middle, (middle[0], middle[1], 0.0)])
