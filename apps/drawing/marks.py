"""Marks of a drawing, the same for all: a text at a place, a tick on an axis, small shapes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

# From here on a label of a date, up to 2 cm wide, may not fit to the right of its tick on a phone.
LABEL_ROOM_FROM_PERCENT = 94.0


@dataclass(frozen=True)
class Mark:
    """A text at x, y of a drawing, with the path that leads to it where it has one.

    `here` is False for what lies beside the plane shown.
    """

    x: str
    y: str
    text: str = ""
    here: bool = True
    path: str = ""


@dataclass(frozen=True)
class Tick:
    """A labelled place on an axis: percent of the width, or drawing units from left or top."""

    at: float
    label: str

    @property
    def anchor(self) -> str:
        """How a label stands below an axis over time: one at the right end lies before it.

        In the middle it would reach beyond the drawing, and paper cuts it off.
        """
        return "end" if self.at > LABEL_ROOM_FROM_PERCENT else "middle"


def parted(marks: Sequence[Mark], radius: float) -> tuple[Mark, ...]:
    """Return Marks without the text of those that lie away or over one before them.

    `radius` is that of a mark with its text, in drawing units. Those without come first, so that
    none is drawn over a text.
    """
    apart = 2.0 * radius
    said: list[Mark] = []
    bare: list[Mark] = []
    for mark in marks:
        place = float(mark.x), float(mark.y)
        has_room = all(math.dist(place, (float(m.x), float(m.y))) >= apart for m in said)
        if mark.here and has_room:
            said.append(mark)
        else:
            bare.append(replace(mark, text=""))
    return (*bare, *said)


def tenth(value: float) -> str:
    """Return a drawing's number as text. Templates print texts far faster than they format."""
    return f"{value:.1f}"


def polygon_points(corners: Sequence[tuple[float, float]]) -> str:
    """Return the points of an SVG polygon with these corners."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)


def diamond_path(x: float, y: float, radius: float) -> str:
    """Return a square on its corner as path data."""
    r = f"{radius:g}"
    return f"M{x:.1f} {y - radius:.1f}l{r} {r}l-{r} {r}l-{r} -{r}Z"


def circle_path(x: float, y: float, radius: float) -> str:
    """Return a circle as path data: two half turns."""
    r = f"{radius:g}"
    return (
        f"M{x - radius:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * radius:g} 0a{r} {r} 0 1 0 {-2 * radius:g} 0"
    )


def square_path(x: float, y: float, side: float) -> str:
    """Return a square round a point as path data."""
    return f"M{x - side / 2:.1f} {y - side / 2:.1f}h{side:.1f}v{side:.1f}h-{side:.1f}Z"
