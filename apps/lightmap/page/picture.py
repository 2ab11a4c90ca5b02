"""The light map as a file: the page's own drawing with all that explains it, as SVG and as PNG.

The style of a drawing stands once, in the style sheets of the pages: it is read from there, with
the colours of paper in place of their names, since a file is opened where no style sheet is.
"""

import io
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import resvg_py
from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.text import capfirst, slugify
from PIL import Image

from apps.common.units import format_length
from apps.drawing.frame import DRAWING_WIDTH
from apps.drawing.marks import Mark, tenth
from apps.lightmap.page.map_page import LitPage
from apps.lightmap.page.moment import sure_to
from apps.lightmap.page.query import SIDE

TEMPLATE = "lightmap/page/light_map.svg"
FONT = "Source Sans Pro"
FONT_FOLDER = files("font_source_sans_pro") / "files"
REGULAR, BOLD = (str(FONT_FOLDER / f"SourceSansPro-{weight}.otf") for weight in ("Regular", "Bold"))
# Width of a PNG: sharp on a phone and when it is printed 12 cm wide [pixels].
PNG_WIDTH = 1200
# Drawing units: round the sheet, from one line of text to the next, and the legend with its ticks.
MARGIN, TITLE_STEP, LINE_STEP, LEGEND_HEIGHT = 16.0, 19.0, 13.0, 34.0
# So many letters fill a line of the title and of the words.
TITLE_LETTERS, LINE_LETTERS = 38, 78
# The font has no raised minus.
PER_AREA_AND_TIME = ("µmol m⁻² s⁻¹", "µmol/(m² s)")
STATIC = settings.BASE_DIR / "static"
COLOURS, STYLE_SHEETS = "css/variables.css", ("css/blocks.css", "css/pages/light_map.css")
# A rule of a drawing's parts that holds at every width: those for some stand deeper, in a block.
RULE = re.compile(r"^  (\.(?:map|box|dry)[^{}@]*\{[^{}]*\})", re.MULTILINE)
DRAWN = re.compile(r"[ {](fill|stroke|text-anchor|font-family|font-size)")
NAME = re.compile(r"var\((--[a-z0-9-]+)\)")
NAMED_COLOUR = re.compile(r"^    (--[a-z0-9-]+): (#[0-9a-f]{6});", re.MULTILINE)


@dataclass(frozen=True)
class PictureWords:
    """What stands round the drawing: the tank over it, the words under the legend."""

    title: str
    about: str  # which light it is and of which day
    caption: str  # what the colours are, and where the cut lies
    scale: str  # above the legend
    notes: Sequence[str] = ()


@dataclass(frozen=True)
class Sheet:
    """A picture laid out: texts by their style, where drawing and legend stand [drawing units]."""

    width: str
    height: str
    titles: tuple[Mark, ...]
    lines: tuple[Mark, ...]
    drawing_y: str
    drawing_height: str
    legend_y: str


def picture_of(
    page: LitPage, *, size: tuple[int, int] | None = None, words: PictureWords | None = None
) -> str:
    """Return the drawing that a page shows as an SVG file with its legend and words.

    It stands in the middle of a sheet of a `size` [pixels], where one is given; `words` stand
    round it in place of its own.
    """
    is_plan = page.query.seen != SIDE
    sheet = laid_out(words or words_of(page), height_of(page))
    context = {
        "sheet": sheet,
        "size": size or (sheet.width, sheet.height),
        "style": drawing_style(),
        "page": page,
        "unit": page.unit,
        "box": page.box,
        "drawing": page.cut,
        "legend": page.legend,
        "name": "plan" if is_plan else "section",
        "top_words": page.back if is_plan else page.surface_words,
        "foot_words": "FRONT of the tank" if is_plan else "bottom",
    }
    return render_to_string(TEMPLATE, context)


def height_of(page: LitPage) -> float:
    """Return how high the drawing is that a page shows [drawing units]."""
    drawn = page.box or (page.cut.frame if page.cut else None)
    assert drawn is not None  # it was drawn
    return float(drawn.view_box.split()[3])


def words_of(page: LitPage) -> PictureWords:
    """Return what stands round the drawing of a page."""
    return PictureWords(
        title=f"Light map of {page.tank.name}",
        about=f"{page.moment.title}{page.moment.rest}.",
        caption=f"{page.view.look.caption}{page.mark}{where_words(page)}.",
        scale=page.view.look.title,
        notes=tuple(notes_of(page)),
    )


def where_words(page: LitPage) -> str:
    """Return where the drawing lies in the water, to stand behind what its colours are."""

    def length(cm: float) -> str:
        return format_length(cm, page.unit)

    if page.box:
        deep = ", ".join(map(length, page.box.depths_cm))
        return f", seen from {page.box.seen_from}. Slices at {deep} {page.unit} deep"
    if page.query.seen == SIDE:
        return f" {length(page.view.y_cm)} {page.unit} behind the front pane"
    return f" {length(page.view.depth_cm)} {page.unit} below the surface"


def notes_of(page: LitPage, *, named: bool = True) -> Iterator[str]:
    """Yield the lines below the legend: the band or the change, how sure, what the signs are.

    Corals are `named` by their numbers, but where a table does.
    """
    pins = page.planes.pin_lights if page.planes and named else ()
    corals = ", ".join(f"{lit.number} {lit.pin.name}" for lit in pins)
    numbered = f"Numbers: {corals}." if corals else ""
    if page.since:
        yield f"Compared with {page.since.name}. Fine dots: maybe no change."
    if page.box:
        yield numbered
        return
    if page.view.wanted and not page.view.look.levels:
        low, high = page.view.wanted
        yield f"Strong line and bracket: PAR {low:g} to {high:g}. A veil lies over the rest."
    sure = page.light.field.half_width_percent
    if sure is not None and not page.since:
        exact = capfirst(sure_to(sure))
        yield f"{exact} at a typical spot. Hatched: an estimate beyond the readings."
    words = "Black dots: readings. " if page.rows else ""
    yield f"{words}{numbered}".strip()


def as_png(svg: str, *, width_px: int = PNG_WIDTH) -> bytes:
    """Return an SVG drawn as PNG; letters that its own font lacks come from those installed."""
    return resvg_py.svg_to_bytes(
        svg_string=svg,
        width=width_px,
        background="#ffffff",
        font_files=[REGULAR, BOLD],
        font_family=FONT,
        sans_serif_family=FONT,
    )


def lightened(png: bytes) -> bytes:
    """Return a picture of a drawing in a quarter of its bytes: as many colours as it needs."""
    result = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").quantize(64).save(result, "PNG", optimize=True)
    return result.getvalue()


def laid_out(words: PictureWords, drawing_height: float) -> Sheet:
    """Return the Sheet of a picture: title, the drawing below it, its legend, the notes."""
    titles = wrapped(words.title, TITLE_LETTERS)
    about, caption = (wrapped(text, LINE_LETTERS) for text in (words.about, words.caption))
    notes = [line for note in words.notes for line in wrapped(note, LINE_LETTERS)]
    marks: list[Mark] = []

    def set_down(texts: Sequence[str], y: float, step: float) -> float:
        for text in texts:
            y += step
            marks.append(Mark(tenth(MARGIN), tenth(y), text))
        return y

    y = set_down(titles, MARGIN - 4, TITLE_STEP)
    drawing_y = set_down(about, y + 1, LINE_STEP) + 8
    legend_y = set_down(
        [*caption, *wrapped(words.scale, LINE_LETTERS)], drawing_y + drawing_height, LINE_STEP
    )
    foot = set_down(notes, legend_y + 6 + LEGEND_HEIGHT, LINE_STEP)
    return Sheet(
        width=tenth(DRAWING_WIDTH + 2 * MARGIN),
        height=tenth(foot + MARGIN),
        titles=tuple(marks[: len(titles)]),
        lines=tuple(marks[len(titles) :]),
        drawing_y=tenth(drawing_y),
        drawing_height=tenth(drawing_height),
        legend_y=tenth(legend_y + 6),
    )


def wrapped(text: str, letters: int) -> list[str]:
    """Return a text in lines, without the signs that no XML file may hold."""
    kept = "".join(sign for sign in text if sign.isprintable()).replace(*PER_AREA_AND_TIME)
    # A number and its percent sign stay together.
    return textwrap.wrap(kept.replace(" %", "\u00a0%"), letters)


@cache
def drawing_style() -> str:
    """Return the rules of the parts of a drawing, with the colours of paper."""
    sheets = {name: (STATIC / name).read_text("utf-8") for name in (COLOURS, *STYLE_SHEETS)}
    colours: dict[str, str] = {}
    for name, colour in NAMED_COLOUR.findall(sheets[COLOURS]):
        colours.setdefault(name, colour)  # those of paper stand first
    rules = (rule for name in STYLE_SHEETS for rule in RULE.findall(sheets[name]))
    fonts = {"--text": f'"{FONT}", sans-serif'}
    known = colours | fonts
    return "\n".join(
        NAME.sub(lambda name: known[name[1]], rule)
        for rule in rules
        # A size is of the page round a drawing.
        if DRAWN.search(rule) and known.keys() >= set(NAME.findall(rule))
    )


def file_name(page: LitPage, ending: str) -> str:
    """Return what a picture of a page is called where it is kept."""
    day = timezone.localdate(timezone=page.tank.zone)
    return f"{slugify(page.tank.name) or 'tank'}-light-map-{day:%Y-%m-%d}.{ending}"
