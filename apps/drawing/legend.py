"""Which colours stand for which values, and the legend that explains them."""

from dataclasses import dataclass

import numpy as np

from apps.drawing.contours import band_colours
from apps.drawing.frame import DRAWING_WIDTH
from apps.drawing.marks import tenth
from apps.photics.colour.cielab import linear_of_srgb

# One scale for every drawing of PAR, so that a colour means the same light on all of them: steps
# of about a quarter or a third, and a level at each end of the bands corals are kept in. Our own
# choice [umol m-2 s-1].
PAR_LEVELS = (25.0, 50.0, 75.0, 100.0, 125.0, 150.0, 200.0, 250.0, 300.0, 350.0, 450.0, 600.0)
# Factors between the bands of a change, the same on every map so that maps compare [1].
CHANGE_LEVELS = (0.5, 0.7, 0.85, 0.95, 1.05, 1.2, 1.45, 2.0)
# Below this relative luminance pale ink reads better than dark: both stand out 4.6 : 1 there
# (WCAG 2.2, contrast of L against black and white).
PALE_INK_BELOW = 0.179
# Top, foot and height of the ends of the bracket round the wanted band.
BRACKET_TOP, BRACKET_FOOT = 1.5, 14.5


@dataclass(frozen=True)
class Scale:
    """The levels between bands and the colour of each band, the same at every depth."""

    levels: tuple[float, ...]
    colours: tuple[str, ...]
    words: tuple[str, ...] = ()
    sign: str = ""
    # The wanted band, low and high, in the values' own unit.
    wanted: tuple[float, float] | None = None
    # Whether its levels lie on both sides of none, so that each bears plus or minus.
    two_way: bool = False

    def text_of(self, level: float) -> str:
        """Return a level as it is written."""
        return f"{level:+g}".replace("-", "\u2212") if self.two_way else f"{level:g}"

    def colour_of(self, value: float) -> str:
        """Return the colour that stands for a value."""
        return self.colours[int(np.searchsorted(self.levels, value, side="right"))]


PAR_SCALE = Scale(PAR_LEVELS, band_colours(len(PAR_LEVELS) + 1))


@dataclass(frozen=True)
class LegendCell:
    """One band of the legend; `upto` is the level at its right edge, empty for the last."""

    x: str
    right: str
    width: str
    colour: str
    upto: str
    word: str


@dataclass(frozen=True)
class Legend:
    """The cells of a legend; what of them lies outside the wanted band, and a bracket round it."""

    cells: tuple[LegendCell, ...]
    outside: tuple[tuple[str, str], ...] = ()  # x and width
    bracket: str = ""  # path data


def legend_of(scale: Scale) -> Legend:
    """Return the Legend of a scale, its cells from dim to bright."""
    width = DRAWING_WIDTH / len(scale.colours)
    texts = [*map(scale.text_of, scale.levels), ""]
    words = scale.words or ("",) * len(texts)
    cells = tuple(
        LegendCell(tenth(i * width), tenth((i + 1) * width), tenth(width), colour, text, word)
        for i, (colour, text, word) in enumerate(zip(scale.colours, texts, words, strict=True))
    )
    if scale.wanted is None:
        return Legend(cells)
    low, high = (place_on(scale, end) for end in scale.wanted)
    outside = ((tenth(0.0), tenth(low)), (tenth(high), tenth(DRAWING_WIDTH - high)))
    ends = f"M{low + 4:.1f} {BRACKET_TOP}H{low:.1f}V{BRACKET_FOOT}h4"
    return Legend(
        cells, outside, f"{ends}M{high - 4:.1f} {BRACKET_TOP}H{high:.1f}V{BRACKET_FOOT}h-4"
    )


def place_on(scale: Scale, value: float) -> float:
    """Return where a value lies along the legend [drawing units]; open bands end at its ends."""
    width = DRAWING_WIDTH / len(scale.colours)
    edges = [width * (i + 1) for i in range(len(scale.levels))]
    if value < scale.levels[0]:
        return width * max(value, 0.0) / scale.levels[0]
    if value > scale.levels[-1]:
        return DRAWING_WIDTH - width * scale.levels[-1] / value
    return float(np.interp(value, scale.levels, edges))


def is_dark(colour: str) -> bool:
    """Return whether pale ink reads better than dark on a colour "#rrggbb"."""
    return luminance(colour) < PALE_INK_BELOW


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour "#rrggbb", 0 to 1 (WCAG 2.2)."""
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return float(linear_of_srgb(channels) @ (0.2126, 0.7152, 0.0722))
