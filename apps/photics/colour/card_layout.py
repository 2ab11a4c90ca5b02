"""Our printable colour card: where its patches lie and which colours they are meant to have.

Places are parts of the rectangle between the middles of the four corner rings, (0, 0) the upper
left one; so neither the size of the print nor how it is turned or tilted matters.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.colour.cielab import linear_of_lab, srgb_of_linear
from apps.photics.ground.arrays import FloatArray

# Between the middles of the corner rings [mm], chosen, because it fits a hand, a small tank's gap
# and 24 cards on no more than four sheets.
WIDTH_MM, HEIGHT_MM = 80.0, 60.0
COLUMNS, ROWS = 5, 4
# A patch's side over its cell's [1]; paper shows between. Chosen, because a gutter of 4 mm is a
# dozen pixels where the card takes a fifth of a photo, enough to read the light beside each patch.
PATCH_PART = 0.74
# The part [1] of a patch's side that is measured: its rim is blurred. Chosen for that.
MEASURED_PART = 0.66
# The lightness of the grey steps and of the two rings of colours, and their chroma [CIELAB].
# Chosen, because a household printer's inks reach them on plain paper and corals lie among them.
GREY_L = (84.0, 70.0, 57.0, 45.0, 34.0, 25.0)
RINGS = ((66.0, 31.0, 20.0), (44.0, 27.0, 46.0))
HUES = 7
# Which patch lies in which cell, row by row: greys in every row and column, so that a shade over a
# part leaves some, and no turn of the card looks like another. Chosen for that.
ORDER = (6, 0, 13, 9, 3, 14, 10, 1, 17, 7, 4, 18, 11, 15, 2, 12, 8, 5, 19, 16)


@dataclass(frozen=True)
class Patch:
    """A patch: its colour [CIELAB under D65] and its middle in parts of width and height [1]."""

    lab: tuple[float, float, float]
    middle: tuple[float, float]

    @property
    def hex(self) -> str:
        """Its colour as a page prints it, "#a1b2c3"."""
        coded = srgb_of_linear(linear_of_lab(np.array(self.lab)))
        return "#" + "".join(f"{round(255 * float(c)):02x}" for c in coded)


def colours() -> list[tuple[float, float, float]]:
    """Return the colours [CIELAB] of all patches: the greys, then both rings by hue.

    Our own choice.
    """
    result = [(lightness, 0.0, 0.0) for lightness in GREY_L]
    for lightness, chroma, first_deg in RINGS:
        for i in range(HUES):
            angle = np.radians(first_deg + 360.0 * i / HUES)
            a_star, b_star = chroma * np.cos(angle), chroma * np.sin(angle)
            result.append((lightness, round(float(a_star), 2), round(float(b_star), 2)))
    return result


def patches() -> tuple[Patch, ...]:
    """Return the patches, row by row."""
    every = colours()
    return tuple(
        Patch(every[number], ((i % COLUMNS + 0.5) / COLUMNS, (i // COLUMNS + 0.5) / ROWS))
        for i, number in enumerate(ORDER)
    )


PATCHES = patches()
# Colours (n, 3) [CIELAB] and middles (n, 2) [1] of all patches, by the layout above.
LABS = np.array([patch.lab for patch in PATCHES])
MIDDLES = np.array([patch.middle for patch in PATCHES])


def square(middle: FloatArray, part: float) -> FloatArray:
    """Return the corners (4, 2) [1] of the square about a cell's `middle` (2,).

    Its sides are `part` of the cell's [1]. By the geometry above.
    """
    half = part / 2.0 / np.array([COLUMNS, ROWS])
    corners: FloatArray = middle + half * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    return corners


def paper_around(middle: FloatArray) -> list[FloatArray]:
    """Return four strips of bare paper (4, 2) [1] around the patch at `middle` (2,).

    Half as wide as the gutter, along the middle of each side; our own choice of both.
    """
    cell = 1.0 / np.array([COLUMNS, ROWS])
    gutter = (1.0 - PATCH_PART) * cell
    strips = []
    for axis in (0, 1):
        for side in (-0.5, 0.5):
            half = 0.3 * PATCH_PART * cell
            half[axis] = 0.25 * gutter[axis]
            at = middle.copy()
            at[axis] += side * cell[axis]
            strips.append(at + half * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]))
    return strips
