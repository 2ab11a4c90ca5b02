"""The light of a plane as SVG parts: bands of colour, lines of equal light, the wanted band."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from apps.drawing.contours import filled_bands, isolines, line_path, place_labels, round_levels
from apps.drawing.frame import Box, Frame
from apps.drawing.legend import Scale, is_dark
from apps.drawing.marks import Mark, tenth

# A level counts on a plane where it parts this share of it; a plane with fewer has lines between
# them, unless its light is all but even. Our own choice.
PARTED_SHARE, LINES_MIN, FLAT_FACTOR = 0.05, 2, 1.1
# The size of text in drawing units; the style sheet draws it so on a phone.
LABEL_SIZE = 12.0


@dataclass(frozen=True)
class DrawnLight:
    """The light of a plane: bands of colour, labelled lines of equal light, where it is a guess."""

    bands: tuple[tuple[str, str], ...]  # path and colour
    lines: tuple[tuple[str, str], ...]  # path, and "pale" or "dark" for its ink
    labels: tuple[Mark, ...]
    beyond: str  # what the readings do not span
    unwanted: str = ""  # outside the wanted band
    wanted_edge: str = ""
    noise: str = ""  # of a change: where it may be none


def draw_light(
    places: tuple[NDArray[np.float64], NDArray[np.float64]],
    values: NDArray[np.float64],
    levels: Sequence[float],
    scale: Scale,
    *,
    beyond: NDArray[np.bool_],
    frame: Frame,
    taken: Sequence[Box] = (),
) -> DrawnLight:
    """Return the DrawnLight of values (ny, nx) at places (nx,), (ny,) of the drawing.

    Lines lie at the levels, colours are those of the scale; `beyond` (ny, nx) is a guess.
    """
    x, y = places
    lines = isolines(x, y, values, levels)
    texts = [f"{scale.text_of(level)}{scale.sign}" for level in levels]
    labels = place_labels(lines, texts, frame=frame.box(), font_size=LABEL_SIZE, taken=taken)
    unwanted, wanted_edge = wanted_of(x, y, values, scale)
    return DrawnLight(
        bands=bands_of(x, y, values, scale),
        lines=tuple(
            (line_path(line), "pale" if is_dark(scale.colour_of(level)) else "dark")
            for level, there in zip(levels, lines, strict=True)
            for line in there
        ),
        labels=tuple(
            Mark(tenth(at.x), tenth(at.y), at.text) for at in labels if frame.is_wet(at.x, at.y)
        ),
        beyond=filled_bands(x, y, beyond.astype(float), [0.5])[1],
        unwanted=unwanted,
        wanted_edge=wanted_edge,
    )


def wanted_of(
    x: NDArray[np.float64], y: NDArray[np.float64], values: NDArray[np.float64], scale: Scale
) -> tuple[str, str]:
    """Return the paths of what lies outside a scale's wanted band, and of that band's edge.

    `values` (ny, nx) at places x (nx,), y (ny,) of the drawing; both empty where none is wanted.
    """
    if scale.wanted is None:
        return "", ""
    below, _, above = filled_bands(x, y, values, scale.wanted)
    edge = (line_path(line) for level in isolines(x, y, values, scale.wanted) for line in level)
    return below + above, "".join(edge)


def bands_of(
    x: NDArray[np.float64], y: NDArray[np.float64], values: NDArray[np.float64], scale: Scale
) -> tuple[tuple[str, str], ...]:
    """Return the path and colour of each band that some of the values (ny, nx) fall in."""
    paths = filled_bands(x, y, values, scale.levels)
    return tuple((p, c) for p, c in zip(paths, scale.colours, strict=True) if p)


def line_levels(scale: Scale, values: NDArray[np.float64]) -> tuple[float, ...]:
    """Return the levels to draw lines at: the scale's, and finer ones where few part the plane.

    Colours stay those of the scale; a plane within one band still shows how it varies. A change
    has no finer lines: they would be within its uncertainty.
    """
    if scale.two_way:
        return scale.levels
    low, high = float(values.min()), float(values.max())
    below = [float((values < level).mean()) for level in scale.levels]
    parting = sum(PARTED_SHARE <= share <= 1.0 - PARTED_SHARE for share in below)
    if parting >= LINES_MIN or high < FLAT_FACTOR * low:
        return scale.levels
    return tuple(sorted({*scale.levels, *round_levels(low, high)}))
