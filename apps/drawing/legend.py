"""Which colours stand for which values, and the legend that tells them."""

from dataclasses import dataclass

from apps.drawing.frame import DRAWING_WIDTH
from apps.drawing.marks import tenth


@dataclass(frozen=True)
class Scale:
    """The levels between bands and the colour of each band, the same at every depth."""

    levels: tuple[float, ...]
    colours: tuple[str, ...]
    words: tuple[str, ...] = ()
    sign: str = ""


@dataclass(frozen=True)
class LegendCell:
    """One band of the legend; `upto` is the level at its right edge, empty for the last."""

    x: str
    right: str
    width: str
    colour: str
    upto: str
    word: str


def legend_of(scale: Scale) -> list[LegendCell]:
    """Return the legend's cells from dim to bright."""
    width = DRAWING_WIDTH / len(scale.colours)
    texts = [*(f"{level:g}" for level in scale.levels), ""]
    words = scale.words or ("",) * len(texts)
    return [
        LegendCell(tenth(i * width), tenth((i + 1) * width), tenth(width), colour, text, word)
        for i, (colour, text, word) in enumerate(zip(scale.colours, texts, words, strict=True))
    ]
