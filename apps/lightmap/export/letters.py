"""Letters on paper: those of the font that comes along, and pictures of all others.

A name may be in any script, and a font of all scripts is larger than the app. What the font lacks
is drawn by the host's own fonts, as in the map's PNG; a box stands for what these lack too.
"""

import io
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from itertools import groupby
from typing import NamedTuple
from xml.sax.saxutils import escape

from fontTools.ttLib import TTFont
from PIL import Image, ImageOps

from apps.lightmap.page.picture import REGULAR, as_png

KNOWN, WIDE, LACKED = "known", "wide", "lacked"
# Stands for a letter that nothing here can draw.
UNKNOWN_LETTER = "\u25a1"
# A picture of letters: so many pixels are the height of the font, which at 20 points makes 300 dpi.
LETTER_PIXELS = 84
# Where its line stands below the picture's top, and how high it is [heights of the font]; a letter
# is at most two wide.
BASELINE, PICTURE_HEIGHT, WIDEST = 1.1, 1.5, 2.0
# A grey darker than this is ink [0 to 255].
INK_BELOW = 128


class Run(NamedTuple):
    """Letters that are written alike: as text, or as a picture of `width` heights of the font."""

    text: str
    picture: Image.Image | None = None
    width: float = 0.0


def runs_of(text: str) -> Iterator[Run]:
    """Yield a line's letters in Runs, without the signs that no file may hold."""
    kept = "".join(sign for sign in text if sign.isprintable())
    kinds = [kind_of(sign) for sign in kept]
    for i in range(1, len(kept) - 1):
        # Words of a script that runs to the left are drawn together, in their order.
        if kept[i] == " " and kinds[i - 1] == kinds[i + 1] == LACKED:
            kinds[i] = LACKED
    for kind, pairs in groupby(zip(kinds, kept, strict=True), lambda pair: pair[0]):
        part = "".join(sign for _, sign in pairs)
        if kind == KNOWN:
            yield Run(part)
        elif kind == WIDE:
            yield from map(drawn_run, part)
        else:
            yield drawn_run(part)


def kind_of(sign: str) -> str:
    """Return whether the font has a letter, or lacks one that stands alone, or one that joins."""
    if ord(sign) in known_letters():
        return KNOWN
    return WIDE if unicodedata.east_asian_width(sign) in "WF" else LACKED


@cache
def known_letters() -> frozenset[int]:
    """Return the code points that the font has a letter for."""
    return frozenset(TTFont(REGULAR, lazy=True).getBestCmap())


@lru_cache(maxsize=512)
def drawn_run(part: str) -> Run:
    """Return a Run of letters that the font lacks."""
    width, height = (round(LETTER_PIXELS * v) for v in (WIDEST * len(part), PICTURE_HEIGHT))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">'
        f'<text y="{BASELINE * LETTER_PIXELS:.0f}" font-size="{LETTER_PIXELS}"'
        f' fill="#1b2830">{escape(part)}</text></svg>'
    )
    drawn = Image.open(io.BytesIO(as_png(svg, width_px=width))).convert("L")
    ink = ImageOps.invert(drawn).point(lambda grey: 255 if grey > 255 - INK_BELOW else 0).getbbox()
    if ink is None:
        return Run(UNKNOWN_LETTER * len(part))
    cut = drawn.crop((0, 0, min(ink[2] + round(0.08 * LETTER_PIXELS), width), height))
    return Run(part, cut, cut.width / LETTER_PIXELS)
