"""Letters of a drawing side by side: each at its point, or near it with a line that leads there."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from apps.drawing.frame import Box
from apps.drawing.marks import Mark, circle_path, tenth

# Where round its point a letter looks for room, in drawing units: from the first ring on a square
# of 18 leaves the point in sight; so far from each other lie the rings, so many of them, with so
# many places on each. Chosen: the last ring lies across half a phone.
RING_FIRST, RING_APART, RINGS, PLACES = 14.0, 5.0, 28, 16
POINT_RADIUS = 2.0


def spaced(
    marks: Sequence[Mark], *, side: float, taken: Iterable[Box], within: Box
) -> tuple[Mark, ...]:
    """Return Marks in squares of a side, none of which lies over another or meets a `taken` Box.

    Whoever has room stays at its point. The others stand at the nearest place that has, `within` a
    Box, and their `path` leads to the point; one that no place has room for stays where it is.
    """
    boxes = list(taken)
    result: dict[int, Mark] = {}
    for k, mark in enumerate(marks):
        here = square(float(mark.x), float(mark.y), side)
        if not any(here.meets(box) for box in boxes):
            result[k] = mark
            boxes.append(here)
    for k, mark in enumerate(marks):
        if k not in result:
            result[k] = beside(mark, side, boxes, within)
            boxes.append(square(float(result[k].x), float(result[k].y), side))
    return tuple(result[k] for k in range(len(marks)))


def beside(mark: Mark, side: float, boxes: Sequence[Box], within: Box) -> Mark:
    """Return a Mark at the nearest place round its point where its square meets no Box."""
    x, y = float(mark.x), float(mark.y)
    for ring in range(RINGS):
        far = RING_FIRST + RING_APART * ring
        for place in range(PLACES):
            turn = math.tau * place / PLACES
            to_x = round(x + far * math.sin(turn), 1)
            to_y = round(y - far * math.cos(turn), 1)
            room = square(to_x, to_y, side)
            if within.holds(room) and not any(room.meets(box) for box in boxes):
                line = f"M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}"
                path = line + circle_path(x, y, POINT_RADIUS)
                return replace(mark, x=tenth(to_x), y=tenth(to_y), path=path)
    return mark


def square(x: float, y: float, side: float) -> Box:
    """Return the Box of a square round a place."""
    half = side / 2
    return Box(x - half, y - half, x + half, y + half)
