"""The light map's sheet as a PDF of one page, to be printed and pinned up."""

import io
import re

from PIL import Image

from apps.lightmap.export.paper import MARGIN_MM, SOFT_INK, Column, Paper, row_height_mm
from apps.lightmap.export.sheet import Sheet
from apps.lightmap.page.picture import as_png

# The drawing is as wide as the page lets it, and as high as its corals leave room, within these.
DRAWING_MM = (108.0, 160.0)
# What a printer draws [dots per mm], 300 an inch.
DOTS_PER_MM = 300 / 25.4
# More colours than that a drawing has not: blends along edges included.
COLOURS = 128
TABLE_POINTS, SMALL_POINTS = 9.0, 9.0
VIEW_BOX = re.compile(r'viewBox="([^"]+)"')
# Heads of the table, and the parts of the page's width their columns take.
COLUMNS = (
    ("", 0.04, False),
    ("Coral", 0.44, False),
    ("PAR", 0.08, True),
    ("Range", 0.13, True),
    ("Band", 0.13, True),
    ("", 0.18, False),
)
# Between two columns [mm].
GAP_MM = 3.0


def write_pdf(sheet: Sheet, *, paper: str) -> bytes:
    """Return a Sheet as a PDF of one page, on paper A4 or LETTER."""
    page = Paper(paper, title=sheet.title, made_on=sheet.made_on)
    page.write(sheet.title, points=20, bold=True, lines_most=2)
    page.write(f"{sheet.about} Printed {sheet.made_on:%-d %b %Y}.", points=10, ink=SOFT_INK)
    page.y_mm += 1.5
    page.write(sheet.answer, points=13, bold=True, lines_most=3)
    page.y_mm += 2
    draw(page, sheet)
    page.write(f"{sheet.caption} {sheet.scale}.", points=SMALL_POINTS)
    for note in sheet.notes:
        page.write(note, points=SMALL_POINTS, lines_most=2)
    page.y_mm += 2
    list_corals(page, sheet)
    page.y_mm += max(page.room_mm - foot_height_mm(sheet), 0.0)
    for line in sheet.sure:
        page.write(line, points=SMALL_POINTS, ink=SOFT_INK, lines_most=1)
    return page.bytes()


def draw(page: Paper, sheet: Sheet) -> None:
    """Set the drawing down with its legend."""
    _, _, across, down = map(float, VIEW_BOX.findall(sheet.svg)[0].split())
    width_mm = min(page.width_mm, room_for_drawing_mm(page, sheet) * across / down)
    png = as_png(sheet.svg, width_px=round(width_mm * DOTS_PER_MM))
    drawn = Image.open(io.BytesIO(png)).convert("RGB").quantize(COLOURS)
    page.picture(drawn, width_mm=width_mm, alt=f"{sheet.caption} {sheet.answer}")


def room_for_drawing_mm(page: Paper, sheet: Sheet) -> float:
    """Return how high the drawing may be, all that stands below it taken into account [mm]."""
    # The caption, the space below the drawing, and the heads of the table.
    lines = len(sheet.notes) + 2 + (len(sheet.corals) + 1 if sheet.corals else 0)
    free_mm = page.room_mm - foot_height_mm(sheet) - lines * row_height_mm(TABLE_POINTS)
    low_mm, high_mm = DRAWING_MM
    return min(max(free_mm, low_mm), high_mm)


def list_corals(page: Paper, sheet: Sheet) -> None:
    """Write the table of corals, as many as there is room for."""
    corals = sheet.corals
    if not corals:
        return
    columns = tuple(placed(page))
    height_mm = row_height_mm(TABLE_POINTS)
    # A row for the heads, and where some are left out one to say so.
    fits = int((page.room_mm - foot_height_mm(sheet)) / height_mm) - 1
    shown = corals if len(corals) <= fits else corals[: max(fits - 1, 0)]
    page.letters(TABLE_POINTS, bold=True)
    page.row(columns, [column.head for column in columns], points=TABLE_POINTS)
    page.letters(TABLE_POINTS)
    for line in shown:
        cells = (line.number, line.name, line.par, line.span, line.band, line.state)
        page.row(columns, cells, points=TABLE_POINTS)
    left = len(corals) - len(shown)
    if left:
        are = "coral is" if left == 1 else "corals are"
        more = f"{left} more {are} on the light map. Those outside their band are listed first."
        page.write(more, points=TABLE_POINTS, ink=SOFT_INK, lines_most=1)


def placed(page: Paper) -> list[Column]:
    """Return the columns of the table where they stand on a page."""
    result, x_mm = [], MARGIN_MM
    for head, part, right in COLUMNS:
        width_mm = part * page.width_mm
        result.append(Column(head, x_mm, width_mm - GAP_MM, right))
        x_mm += width_mm
    return result


def foot_height_mm(sheet: Sheet) -> float:
    """Return how much of the page's foot the lines on how sure take [mm]."""
    return len(sheet.sure) * row_height_mm(SMALL_POINTS)
