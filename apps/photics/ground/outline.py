"""The outline of a tank seen from above: a convex polygon, and what can be asked of one."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray

Corner = tuple[float, float]

# A corner bends the outline by at least this much, else it is left out of the panes [cm]: chosen
# far below what anybody measures.
FLAT_CM = 1e-3
# A point this far outside still counts as on the pane [cm]: chosen, because rounding in other units
# leaves as much.
ON_PANE_CM = 1e-6
# A pane faces a side when its outward normal is within 60 degrees of it [cosine]: chosen, so that
# both panes of a tank set cornerwise face the back, and a third of a round one does.
FACES_COSINE = 0.5
SIDES = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0)}


@dataclass(frozen=True)
class Outline:
    """A convex polygon by its corners [cm], left about when seen with the back up.

    Made by `outline_through`, which puts corners in order.
    """

    corners_cm: tuple[Corner, ...]

    @cached_property
    def begins(self) -> FloatArray:
        """Return where each pane begins, (p, 2) [cm]."""
        return np.array(self.corners_cm, float)

    @cached_property
    def ends(self) -> FloatArray:
        """Return where each pane ends, (p, 2) [cm]."""
        return np.roll(self.begins, -1, axis=0)

    @cached_property
    def normals(self) -> FloatArray:
        """Return the unit normals of the panes that point out of the water, (p, 2) [1]."""
        way = self.ends - self.begins
        way = way / np.linalg.norm(way, axis=1)[:, None]
        return np.stack([way[:, 1], -way[:, 0]], axis=1)

    @cached_property
    def offsets(self) -> FloatArray:
        """Return how far each pane's line is from the origin along its normal, (p,) [cm]."""
        offsets: FloatArray = (self.normals * self.begins).sum(axis=1)
        return offsets

    @property
    def area_cm2(self) -> float:
        """Return the area within [cm2]."""
        return signed_area_cm2(self.corners_cm)

    @property
    def middle_cm(self) -> Corner:
        """Return the centre of the area within, (x, y) [cm]."""
        x, y = self.begins.T
        ahead_x, ahead_y = self.ends.T
        cross = x * ahead_y - ahead_x * y
        share = cross / (3.0 * cross.sum())
        return float(((x + ahead_x) * share).sum()), float(((y + ahead_y) * share).sum())

    def inside_cm(self, x_cm: ArrayLike, y_cm: ArrayLike) -> FloatArray:
        """Return how far points are from the nearest pane's line, below zero outside [cm].

        `x_cm` and `y_cm` in the tank's frame, scalars or arrays that broadcast [cm].
        """
        x, y = np.broadcast_arrays(np.asarray(x_cm), np.asarray(y_cm))
        nearest = np.full(x.shape, np.inf, np.result_type(x, y, np.float32))
        for (across, along), offset in zip(
            self.normals.tolist(), self.offsets.tolist(), strict=True
        ):
            np.minimum(nearest, offset - across * x - along * y, out=nearest)
        return nearest

    def holds(self, x_cm: ArrayLike, y_cm: ArrayLike) -> BoolArray:
        """Return whether points lie within the outline or on it, of the shape of both together.

        `x_cm` and `y_cm` as in `inside_cm`, scalars or arrays that broadcast [cm].
        """
        held: BoolArray = self.inside_cm(x_cm, y_cm) >= -ON_PANE_CM
        return held

    def drawn_in(self, places_cm: FloatArray) -> FloatArray:
        """Return `places_cm` (n, 2), those outside moved to the nearest of the outline [cm].

        Plane geometry: the foot of a perpendicular, or a corner.
        """
        outside = np.nonzero(~self.holds(*places_cm.T))[0]
        if not len(outside):
            return places_cm
        away = places_cm[outside, None, :].astype(float) - self.begins
        way = self.ends - self.begins
        part = np.clip((away * way).sum(axis=2) / (way * way).sum(axis=1), 0.0, 1.0)
        on_pane = self.begins + part[:, :, None] * way
        gap = ((places_cm[outside, None, :] - on_pane) ** 2).sum(axis=2)
        moved = places_cm.copy()
        moved[outside] = on_pane[np.arange(len(outside)), gap.argmin(axis=1)]
        return moved

    def facing(self, side: str) -> BoolArray:
        """Return which panes face a side, "left", "right", "front" or "back", (p,)."""
        faces: BoolArray = self.normals @ np.array(SIDES[side]) > FACES_COSINE
        return faces

    def chord_cm(self, *, x_cm: float) -> tuple[float, float]:
        """Return where the line at one x enters and leaves the outline, (y, y) [cm].

        Both are the same place where the line misses the outline.
        """
        low, high = -math.inf, math.inf
        for (across, along), offset in zip(
            self.normals.tolist(), self.offsets.tolist(), strict=True
        ):
            if abs(along) < 1e-12:
                continue
            at = (offset - across * x_cm) / along
            low, high = (low, min(high, at)) if along > 0 else (max(low, at), high)
        return low, max(low, high)

    def across_cm(self, *, y_cm: float) -> tuple[float, float]:
        """Return where the line at one y enters and leaves the outline, (x, x) [cm]."""
        turned = Outline(tuple((y, -x) for x, y in self.corners_cm))
        low, high = turned.chord_cm(x_cm=y_cm)
        return -high, -low


def signed_area_cm2(corners_cm: Sequence[Corner]) -> float:
    """Return the area of a polygon, below zero where its corners go right about [cm2]."""
    ahead = [*corners_cm[1:], corners_cm[0]]
    return 0.5 * sum(x * b - a * y for (x, y), (a, b) in zip(corners_cm, ahead, strict=True))


def crosses_itself(corners_cm: Sequence[Corner]) -> bool:
    """Return whether two panes of a polygon that are no neighbours meet."""
    many = len(corners_cm)
    panes = [(corners_cm[k], corners_cm[(k + 1) % many]) for k in range(many)]
    return (
        any(
            panes_meet(*panes[i], *panes[j])
            for i in range(many)
            for j in range(i + 1, many)
            if j - i not in (1, many - 1)
        )
        or len(set(corners_cm)) < many
    )


def turn_cm2(first: Corner, second: Corner, third: Corner) -> float:
    """Return twice the area of a triangle, above zero where it turns left [cm2].

    The shoelace formula.
    """
    (x, y), (a, b), (u, v) = first, second, third
    return (a - x) * (v - y) - (b - y) * (u - x)


def panes_meet(begin: Corner, end: Corner, other_begin: Corner, other_end: Corner) -> bool:
    """Return whether two straight panes cross or touch."""
    sides = [turn_cm2(begin, end, at) for at in (other_begin, other_end)]
    others = [turn_cm2(other_begin, other_end, at) for at in (begin, end)]
    if any((sides[0], sides[1], others[0], others[1])):
        return sides[0] * sides[1] <= 0.0 and others[0] * others[1] <= 0.0
    # All on one line: they meet where their extents do.
    return all(
        max(min(begin[k], end[k]), min(other_begin[k], other_end[k]))
        <= min(max(begin[k], end[k]), max(other_begin[k], other_end[k]))
        for k in (0, 1)
    )


def is_convex(corners_cm: Sequence[Corner]) -> bool:
    """Return whether a polygon that does not cross itself bends one way all round."""
    many = len(corners_cm)
    turns = [
        turn_cm2(corners_cm[k - 1], corners_cm[k], corners_cm[(k + 1) % many]) for k in range(many)
    ]
    tolerance = FLAT_CM * max(abs(x) + abs(y) for x, y in corners_cm)
    return all(t >= -tolerance for t in turns) or all(t <= tolerance for t in turns)


def outline_through(corners_cm: Sequence[Corner]) -> Outline:
    """Return the Outline of a convex polygon's corners, in either order [cm].

    Corners that lie between their neighbours on a straight pane are left out.

    >>> outline_through([(0, 0), (0, 40), (30, 40), (30, 0)]).area_cm2
    1200.0
    """
    corners = [(float(x), float(y)) for x, y in corners_cm]
    if signed_area_cm2(corners) < 0:
        corners.reverse()
    many = len(corners)
    kept = [
        corners[k]
        for k in range(many)
        if abs(turn_cm2(corners[k - 1], corners[k], corners[(k + 1) % many]))
        > FLAT_CM * math.dist(corners[k - 1], corners[(k + 1) % many])
    ]
    return Outline(tuple(kept))


def tangent_corners(
    middle_cm: Corner, *, radius_cm: float, from_rad: float, to_rad: float, facets: int
) -> list[Corner]:
    """Return corners of equal panes that touch an arc, (x, y) each [cm].

    From `from_rad` to `to_rad`, left about, of the circle round `middle_cm`. The first and last
    pane end on the arc's ends.
    """
    step = (to_rad - from_rad) / facets
    far = radius_cm / math.cos(step / 2.0)
    turns = [from_rad + (k + 0.5) * step for k in range(facets)]
    ends = [(from_rad, radius_cm), *((turn, far) for turn in turns), (to_rad, radius_cm)]
    return [
        (middle_cm[0] + out * math.cos(turn), middle_cm[1] + out * math.sin(turn))
        for turn, out in ends
    ]
