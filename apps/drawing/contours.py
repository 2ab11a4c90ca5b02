"""Filled bands and lines of equal value as SVG path data, with their colours, levels and labels.

Pure: arrays in, texts and small records out. Coordinates are those of the drawing, so the caller
maps the tank to its frame first.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import contourpy
import numpy as np

from apps.drawing.frame import Box
from apps.photics.ground.arrays import BoolArray, FloatArray

# Colours of the cividis map at 17 even steps from low to high: perceptually uniform and alike for
# people with and without colour vision deficiency. Nuñez, Anderton & Renslow 2018,
# doi:10.1371/journal.pone.0199239, in the public domain table that matplotlib ships.
CIVIDIS = (
    (0, 34, 78), (0, 46, 106), (26, 56, 111), (50, 67, 109), (67, 78, 108), (83, 90, 109),
    (97, 101, 111), (111, 112, 115), (125, 124, 120), (139, 135, 120), (154, 147, 118),
    (170, 160, 115), (187, 173, 109), (204, 186, 100), (221, 200, 88), (239, 215, 72),
    (254, 232, 56),
)  # fmt: skip

# Nine colours from less through paper to more, blue to amber, with L* of about 26 45 68 84 93 84 68
# 44 25: apart without colour vision by which side is which, and alike in strength on both sides.
# Our own choice, worked out in CIE LCh.
TWO_WAY = (
    "#00436a", "#0072a7", "#73acd1", "#bad6e7", "#f0eadf",
    "#eacea1", "#d29c55", "#965926", "#5d2f18",
)  # fmt: skip

# Steps between levels within a power of ten, the ones easiest to count with first.
STEPS = (1.0, 2.0, 5.0, 2.5, 4.0, 3.0, 1.5, 6.0, 8.0)
BANDS_MIN, BANDS_MAX = 6, 10
# Below this share of its value a range is noise of the computation, not a slope.
FLAT_SHARE = 1e-6
# Values nearer to a level than this share of it, or than this, lie on it: single precision's dust.
DUST = 1e-5
# A digit's width as a share of the font size, a little generous.
DIGIT_WIDTH = 0.62
# Places tried along a line before its label is left out.
LABEL_TRIALS = 25


def cividis(share: float) -> str:
    """Return the colour "#rrggbb" at a share from 0 (low) to 1 (high); beyond is clipped."""
    place = min(max(float(share), 0.0), 1.0) * (len(CIVIDIS) - 1)
    below = min(int(place), len(CIVIDIS) - 2)
    part = place - below
    mixed = (
        round(a + (b - a) * part) for a, b in zip(CIVIDIS[below], CIVIDIS[below + 1], strict=True)
    )
    return "#{:02x}{:02x}{:02x}".format(*mixed)


def band_colours(count: int) -> tuple[str, ...]:
    """Return `count` colours from low to high, as far apart as the map allows."""
    return tuple(cividis(0.5 if count == 1 else i / (count - 1)) for i in range(count))


def round_levels(low: float, high: float) -> tuple[float, ...]:
    """Return the round values that cut low..high into six to ten bands, ascending.

    Levels lie strictly inside; the outermost bands are open. A flat range gives none.
    """
    if not (math.isfinite(low) and math.isfinite(high)):
        raise ValueError("Levels need a finite range.")
    span = high - low
    if span <= FLAT_SHARE * max(abs(low), abs(high)):
        return ()
    decade = 10.0 ** math.floor(math.log10(span))
    fits = []
    for scale in (decade / 100.0, decade / 10.0, decade):
        for step in STEPS:
            levels = multiples_between(low, high, step * scale)
            if BANDS_MIN <= len(levels) + 1 <= BANDS_MAX:
                fits.append((STEPS.index(step), abs(len(levels) - 7), levels))
    return min(fits)[2]


def spread_over(values: FloatArray, hidden: BoolArray) -> FloatArray:
    """Return values (ny, nx) with those hidden replaced by the nearest that is not.

    Lets bands run up to what hides them instead of bending round it; all hidden: as they are.
    """
    known = np.argwhere(~hidden)
    if not hidden.any() or len(known) == 0:
        return values
    filled = values.copy()
    for at in np.argwhere(hidden):
        nearest = known[np.argmin(((known - at) ** 2).sum(axis=1))]
        filled[tuple(at)] = values[tuple(nearest)]
    return filled


def multiples_between(low: float, high: float, step: float) -> tuple[float, ...]:
    """Return the multiples of step strictly between low and high, free of rounding dust."""
    first, last = math.floor(low / step) + 1, math.ceil(high / step) - 1
    digits = max(0, 1 - math.floor(math.log10(step)))
    # More than a hundred is never drawn: spares building a list nobody wants.
    values = (round(i * step, digits) for i in range(first, min(last, first + 100) + 1))
    # Dust in low / step can let an end itself through.
    return tuple(value for value in values if low < value < high)


def without_dust(z: FloatArray, levels: Sequence[float]) -> FloatArray:
    """Return z with the values that lie on a level but for rounding put on it.

    All lamps turned to 70 % are one value everywhere, which would lie in two bands by chance.
    """
    result = np.array(z, float)
    for level in levels:
        result[np.abs(result - level) <= DUST * max(1.0, abs(level))] = level
    return result


def filled_bands(
    x: FloatArray, y: FloatArray, z: FloatArray, levels: Sequence[float]
) -> tuple[str, ...]:
    """Return the path data of the bands below, between and above the levels.

    x (nx,), y (ny,) in drawing units, z (ny, nx), nan where nothing is known. One text for each
    of the len(levels) + 1 bands, empty where no value falls in it; draw with the even-odd rule,
    since holes are rings of the same path.
    """
    edges = (-math.inf, *levels, math.inf)
    z = without_dust(z, levels)
    maker = contourpy.contour_generator(x, y, z, fill_type=contourpy.FillType.OuterOffset)
    return tuple(
        "".join(
            ring_path(points[start:end])
            for points, offsets in zip(*maker.filled(low, high), strict=True)
            for start, end in itertools.pairwise(offsets)
        )
        for low, high in itertools.pairwise(edges)
    )


def isolines(
    x: FloatArray, y: FloatArray, z: FloatArray, levels: Sequence[float]
) -> tuple[tuple[FloatArray, ...], ...]:
    """Return for each level the lines of that value, each an array (k, 2) in drawing units."""
    z = without_dust(z, levels)
    maker = contourpy.contour_generator(x, y, z, line_type=contourpy.LineType.Separate)
    # Of this line type the library gives a plain list of arrays, whatever its annotation says.
    return tuple(tuple(cast(list[FloatArray], maker.lines(level))) for level in levels)


def ring_path(points: FloatArray) -> str:
    """Return the closed path through points (k, 2); the last repeats the first."""
    return line_path(points[:-1]) + "Z"


def line_path(points: FloatArray) -> str:
    """Return the open path through points (k, 2), to a tenth of a drawing unit."""
    # One format for all of them: thousands of points are written for every page.
    texts = ("L%.1f %.1f" * len(points)) % tuple(points.ravel().tolist())
    return "M" + texts[1:]


@dataclass(frozen=True)
class Label:
    """A text centred on x, y."""

    text: str
    x: float
    y: float
    box: Box


def place_labels(
    lines_by_level: Sequence[Sequence[FloatArray]],
    texts: Sequence[str],
    *,
    frame: Box,
    font_size: float,
    taken: Sequence[Box] = (),
) -> tuple[Label, ...]:
    """Return one Label for each level whose longest line has room for it inside the frame.

    No label meets another or a `taken` Box. Lines shorter than their text stay bare.
    """
    labels, used = [], list(taken)
    for lines, text in zip(lines_by_level, texts, strict=True):
        for line in sorted(lines, key=length_of, reverse=True):
            label = label_on(line, text, frame, font_size, used)
            if label:
                labels.append(label)
                used.append(label.box)
                break
    return tuple(labels)


def label_on(
    line: FloatArray, text: str, frame: Box, font_size: float, used: Sequence[Box]
) -> Label | None:
    """Return the Label nearest the middle of one line (k, 2) that is free, or None."""
    half_width = (DIGIT_WIDTH * font_size * len(text)) / 2 + 2
    half_height = font_size / 2 + 1
    if length_of(line) < 2 * half_width:
        return None
    for x, y in places_from_middle(line):
        box = Box(x - half_width, y - half_height, x + half_width, y + half_height)
        if frame.holds(box) and not any(box.meets(other) for other in used):
            return Label(text, x, y, box)
    return None


def places_from_middle(line: FloatArray) -> Iterator[tuple[float, float]]:
    """Yield points along a line (k, 2): its middle first, then ever further out to both ends."""
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    shares = sorted(np.linspace(0.02, 0.98, LABEL_TRIALS), key=lambda share: abs(share - 0.5))
    for share in shares:
        at = share * walked[-1]
        yield float(np.interp(at, walked, line[:, 0])), float(np.interp(at, walked, line[:, 1]))


def length_of(line: FloatArray) -> float:
    """Return the length of a line (k, 2)."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())
