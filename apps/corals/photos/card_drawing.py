"""The colour card as the page draws it for the printer: everything in millimetres."""

from dataclasses import dataclass

import numpy as np

from apps.photics.colour.card_layout import (
    COLUMNS,
    GREY_L,
    HEIGHT_MM,
    PATCH_PART,
    PATCHES,
    ROWS,
    WIDTH_MM,
    Patch,
)
from apps.photics.colour.cielab import linear_of_lab, xyz_of_linear
from apps.photics.colour.colour_card import PAPER

# Bare paper around the corner rings, and what lies below the card.
MARGIN_MM = 10.0
BELOW_MM = 34.0
TICK_EVERY_MM = 10.0
# What black ink sends back [1]: typical of matt paper, no published source.
BLACK = 0.05
# Each grey that is checked lies beside lines that send back as much together: so many apart.
CHECKED = GREY_L[:3]
LINES, LINE_PITCH_MM, CHECK_HEIGHT_MM, CHECK_WIDTH_MM = 22, 0.5, 9.0, 22.0


@dataclass(frozen=True)
class PrintedPatch:
    """A filled rectangle [mm]."""

    x: float
    y: float
    width: float
    height: float
    hex: str


@dataclass(frozen=True)
class GreyCheck:
    """A grey and black lines on paper beside it which, seen from afar, must look like it."""

    solid: PrintedPatch
    lines: tuple[PrintedPatch, ...]


@dataclass(frozen=True)
class CardDrawing:
    """The printable card; lengths in mm."""

    width: float
    height: float
    cut_width: float
    cut_height: float
    patches: tuple[PrintedPatch, ...]
    rings: tuple[tuple[float, float], ...]
    ticks: tuple[float, ...]
    ruler_y: float
    ruler_words_y: float
    ruler_mm: float
    checks: tuple[GreyCheck, ...]


def card_drawing() -> CardDrawing:
    """Return the CardDrawing of our card."""
    card_height = HEIGHT_MM + 2 * MARGIN_MM
    right, bottom = MARGIN_MM + WIDTH_MM, MARGIN_MM + HEIGHT_MM
    top = card_height + 18.0
    return CardDrawing(
        width=WIDTH_MM + 2 * MARGIN_MM,
        height=card_height + BELOW_MM,
        # The dashed line lies just inside, so that a printer does not cut it off.
        cut_width=WIDTH_MM + 2 * MARGIN_MM - 0.4,
        cut_height=card_height - 0.4,
        patches=tuple(patch_box(patch) for patch in PATCHES),
        rings=tuple((x, y) for y in (MARGIN_MM, bottom) for x in (MARGIN_MM, right)),
        ticks=tuple(float(x) for x in MARGIN_MM + np.arange(0, WIDTH_MM + 1, TICK_EVERY_MM)),
        ruler_y=card_height + 6.0,
        ruler_words_y=card_height + 10.5,
        ruler_mm=WIDTH_MM,
        checks=tuple(
            grey_check(lightness, x=MARGIN_MM + 28.0 * i, y=top)
            for i, lightness in enumerate(CHECKED)
        ),
    )


def patch_box(patch: Patch) -> PrintedPatch:
    """Return where a patch is printed."""
    across, down = patch.middle
    width, height = PATCH_PART * WIDTH_MM / COLUMNS, PATCH_PART * HEIGHT_MM / ROWS
    x = MARGIN_MM + across * WIDTH_MM - width / 2
    y = MARGIN_MM + down * HEIGHT_MM - height / 2
    return PrintedPatch(round(x, 2), round(y, 2), round(width, 2), round(height, 2), patch.hex)


def grey_check(lightness: float, *, x: float, y: float) -> GreyCheck:
    """Return the GreyCheck of a grey at a place [mm]."""
    grey = Patch((lightness, 0.0, 0.0), (0.5, 0.5))
    half = CHECK_WIDTH_MM / 2
    inked = LINE_PITCH_MM * (1.0 - paper_part(lightness))
    lines = tuple(
        PrintedPatch(
            round(x + half + i * LINE_PITCH_MM, 3), y, round(inked, 3), CHECK_HEIGHT_MM, "#000000"
        )
        for i in range(LINES)
    )
    return GreyCheck(PrintedPatch(x, y, half, CHECK_HEIGHT_MM, grey.hex), lines)


def paper_part(lightness: float) -> float:
    """Return how much of an area must stay paper among black lines to look as light as a grey."""
    light = float(xyz_of_linear(linear_of_lab(np.array([lightness, 0.0, 0.0])))[1])
    return (light - BLACK) / (PAPER - BLACK)
