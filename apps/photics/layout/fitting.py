"""Fixtures moved aside until none lies on another: a start that nearly fits is not thrown away."""

import math
from collections.abc import Sequence
from itertools import combinations

from apps.photics.layout.choice import DUST, Room
from apps.photics.layout.hanging import Layout
from apps.photics.layout.score import Scorer

# Places are stated to half a centimetre [cm]: chosen, as no ceiling hook is nearer to its mark.
PLACE_STEP_CM = 0.5
# How often fixtures give way to each other at most: chosen, because what has not settled by then
# goes round in circles.
NUDGES_MOST = 40
# How much further the earlier of two fixtures must be spared to move the later one [cm]: chosen, so
# that fills give way to what they fill.
EARLIER_STAYS_CM = 2.0


class Face:
    """The lit face of one fixture seen from above, and where its middle may be [cm]."""

    def __init__(self, middle: tuple[float, float], sides: tuple[float, float], room: Room | None):
        """`middle` and `sides` along x and y [cm]; `room` is None for a fixture that stays."""
        self.middle, self.sides, self.room = list(middle), sides, room

    def overlaps(self, other: "Face") -> bool:
        """Return whether it lies on another."""
        return all(
            abs(self.middle[axis] - other.middle[axis]) < self.apart_cm(other, axis) - DUST
            for axis in (0, 1)
        )

    def apart_cm(self, other: "Face", axis: int) -> float:
        """Return how far apart the middles must be along an axis [cm]."""
        return (self.sides[axis] + other.sides[axis]) / 2.0

    def ways_past(self, other: "Face") -> list[tuple[float, int, float]]:
        """Return (way [cm], axis, middle there [cm]) of each place beside another it may go to."""
        if self.room is None:
            return []
        ways = []
        for axis, (low, high) in enumerate(self.room):
            for sign in (-1.0, 1.0):
                beside = other.middle[axis] + sign * self.apart_cm(other, axis)
                # Snapped away from the other one.
                at = sign * math.ceil(sign * beside / PLACE_STEP_CM - DUST) * PLACE_STEP_CM
                if low - DUST <= at <= high + DUST:
                    ways.append((abs(at - self.middle[axis]), axis, at))
        return ways


def fitted(scorer: Scorer, layout: Layout) -> Layout | None:
    """Return a layout whose fixtures are moved aside until none lies on another; None if they do.

    The later of two gives way where that is about as short: our own choice. Those that stay never
    move.
    """
    if not scorer.overlaps(layout):
        return layout if scorer.fits(layout) else None
    question = scorer.question
    faces = []
    for kind in layout.hung:
        candidate = question.candidates[kind.candidate]
        room = None if candidate.is_kept else scorer.room(kind.candidate)
        faces += [Face(at, candidate.sides_cm, room) for at in kind.places_cm]
    if not settle(faces):
        return None
    moved, middles = layout, [(face.middle[0], face.middle[1]) for face in faces]
    for k, kind in enumerate(layout.hung):
        own, middles = middles[: len(kind.places_cm)], middles[len(kind.places_cm) :]
        moved = moved.with_kind(k, kind._replace(places_cm=tuple(own)))
    return moved if scorer.fits(moved) else None


def settle(faces: Sequence[Face]) -> bool:
    """Move faces aside, each within its room, and return whether none lies on another then."""
    for _ in range(NUDGES_MOST):
        pair = next((pair for pair in combinations(faces, 2) if pair[0].overlaps(pair[1])), None)
        if pair is None:
            return True
        earlier, later = pair
        ways = [(way, later, axis, at) for way, axis, at in later.ways_past(earlier)]
        ways += [(way + EARLIER_STAYS_CM, earlier, axis, at)
                 for way, axis, at in earlier.ways_past(later)]  # fmt: skip
        if not ways:
            return False
        _, face, axis, at = min(ways, key=lambda one: one[0])
        face.middle[axis] = at
    return False
