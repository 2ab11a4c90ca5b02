"""Regions marked on a picture, in parts of its width and height, and the pixels inside them."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from apps.photics.ground.arrays import BoolArray, FloatArray

# What a picture is made of comes back: codes as codes, light as light.
Pixel = TypeVar("Pixel", bound=np.generic)

BOX, ELLIPSE, OUTLINE = "box", "ellipse", "outline"


@dataclass(frozen=True)
class Region:
    """A shape on a picture.

    `points` are (x, y) in parts of width and height [1] from the upper left corner, 0 to 1: two
    opposite corners of a box, or of the box around an ellipse, or the corners of an outline in
    order, at least three.
    """

    shape: str
    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if self.shape not in (BOX, ELLIPSE, OUTLINE):
            raise ValueError(f"A region is a box, an ellipse or an outline, not {self.shape!r}.")
        enough = len(self.points) >= 3 if self.shape == OUTLINE else len(self.points) == 2
        if not enough:
            raise ValueError("A box and an ellipse have two corners, an outline at least three.")

    def ends(self) -> tuple[float, float, float, float]:
        """Return left, top, right and bottom, parts of the picture's width and height [1]."""
        points = np.asarray(self.points, float)
        (left, top), (right, bottom) = points.min(0), points.max(0)
        return left, top, right, bottom

    def corners(self) -> FloatArray:
        """Return its outline as corners (k, 2), parts of width and height [1]; an ellipse has 72.

        Chosen, because 72 are a corner every 5 degrees, which looks round on a screen.
        """
        left, top, right, bottom = self.ends()
        if self.shape == OUTLINE:
            return np.asarray(self.points, float)
        if self.shape == BOX:
            return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
        turn = 2.0 * np.pi * np.arange(72) / 72
        half = np.array([(right - left) / 2.0, (bottom - top) / 2.0])
        middle = np.array([left, top])
        return middle + half * (1.0 + np.stack([np.cos(turn), np.sin(turn)], axis=-1))

    def moved(self, transform: FloatArray) -> "Region":
        """Return the region where a map puts its points; still within the picture.

        `transform` (2, 3) [1], affine: a matrix and a shift in parts of width and height.
        """
        points = np.asarray(self.points, float)
        if self.shape == OUTLINE:
            put = points @ transform[:, :2].T + transform[:, 2]
        else:
            # A box stays upright: its middle moves and its sides scale.
            middle = transform[:, :2] @ points.mean(0) + transform[:, 2]
            half = np.ptp(points, axis=0) / 2.0 * np.sqrt(abs(np.linalg.det(transform[:, :2])))
            put = np.array([middle - half, middle + half])
        held = np.clip(put, 0.0, 1.0)
        return Region(self.shape, tuple((float(x), float(y)) for x, y in held))


def pixels_of(picture: NDArray[Pixel], region: Region) -> tuple[NDArray[Pixel], FloatArray]:
    """Return the pixels (n, 3) inside a region and their places (n, 2).

    `picture` (h, w, 3) in any unit, which is that of the pixels. A pixel is inside when its middle
    is (chosen, because that is the area on average). Places are rows and columns in parts, 0 to 1,
    of the region's own box [1]. A region thinner than a pixel has none.
    """
    height, width = picture.shape[:2]
    left, top, right, bottom = region.ends()
    columns = np.arange(max(int(left * width), 0), min(int(np.ceil(right * width)), width))
    rows = np.arange(max(int(top * height), 0), min(int(np.ceil(bottom * height)), height))
    x, y = np.meshgrid((columns + 0.5) / width, (rows + 0.5) / height)
    inside = contains(region, x, y)
    cut = picture[np.ix_(rows, columns)][inside]
    span = np.array([max(bottom - top, 1e-9), max(right - left, 1e-9)])
    places = (np.stack([y[inside], x[inside]], axis=-1) - (top, left)) / span
    return cut, places


def contains(region: Region, x: FloatArray, y: FloatArray) -> BoolArray:
    """Return whether points lie inside a region, of the shape of `x` and `y`.

    `x` and `y` of one shape, parts of the picture's width and height [1].
    """
    left, top, right, bottom = region.ends()
    if region.shape == OUTLINE:
        return inside_outline(np.asarray(region.points, float), x, y)
    inside: BoolArray
    if region.shape == BOX:
        inside = (x >= left) & (x <= right) & (y >= top) & (y <= bottom)
        return inside
    across = (x - (left + right) / 2.0) / max((right - left) / 2.0, 1e-12)
    down = (y - (top + bottom) / 2.0) / max((bottom - top) / 2.0, 1e-12)
    inside = across**2 + down**2 <= 1.0
    return inside


def inside_outline(corners: FloatArray, x: FloatArray, y: FloatArray) -> BoolArray:
    """Return whether points lie inside an outline, of the shape of `x` and `y`.

    `corners` (k, 2) in order, `x` and `y` of one shape, all in parts of width and height [1]. By
    the even-odd rule: inside is where a ray to the side crosses the outline an odd number of times.
    """
    inside = np.zeros(np.shape(x), bool)
    for (x1, y1), (x2, y2) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if y1 == y2:
            continue
        crosses = (y1 > y) != (y2 > y)
        inside ^= crosses & (x < (x2 - x1) * (y - y1) / (y2 - y1) + x1)
    return inside
