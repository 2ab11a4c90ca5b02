"""One page of a PDF, written from top to foot: lines that wrap, pictures, a table.

Lengths are millimetres on paper, sizes of letters points.
"""

import datetime as dt
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fpdf import FPDF, ViewerPreferences
from PIL import Image

from apps.lightmap.export.letters import BASELINE, PICTURE_HEIGHT, Run, runs_of
from apps.lightmap.page.picture import BOLD, FONT, REGULAR

A4, LETTER = "a4", "letter"
MARGIN_MM = 15.0
MM_PER_POINT = 25.4 / 72
# From one line of text to the next [heights of its letters].
LINE_STEP = 1.25
INK, SOFT_INK, RULE_INK = (27, 40, 48), (84, 98, 106), (190, 198, 202)


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, where it begins and how wide it is [mm]."""

    head: str
    x_mm: float
    width_mm: float
    right: bool = False


class Paper:
    """A page being written; `y_mm` is how far down it is filled."""

    def __init__(self, paper: str, *, title: str, made_on: dt.date) -> None:
        self.pdf = FPDF(format=paper, unit="mm")
        self.pdf.set_auto_page_break(False)
        self.pdf.set_title(title)
        self.pdf.set_lang("en")
        self.pdf.set_creator("reeflog")
        # Of the day, so that the same sheet made twice on it is the same file.
        self.pdf.set_creation_date(dt.datetime.combine(made_on, dt.time(), dt.UTC))
        self.pdf.viewer_preferences = ViewerPreferences(display_doc_title=True)
        self.pdf.add_font(FONT, "", REGULAR)
        self.pdf.add_font(FONT, "B", BOLD)
        self.pdf.add_page()
        self.y_mm = MARGIN_MM

    @property
    def width_mm(self) -> float:
        """How wide a line is."""
        return float(self.pdf.w) - 2 * MARGIN_MM

    @property
    def room_mm(self) -> float:
        """How much of the page is free, down to the foot's margin."""
        return float(self.pdf.h) - MARGIN_MM - self.y_mm

    def write(
        self,
        text: str,
        *,
        points: float,
        bold: bool = False,
        ink: tuple[int, int, int] = INK,
        lines_most: int = 4,
    ) -> None:
        """Write a text from margin to margin, in as many lines as it takes and may have."""
        self.letters(points, bold=bold, ink=ink)
        lines = list(self.lines_of(text, self.width_mm))
        if len(lines) > lines_most:
            lines = [*lines[: lines_most - 1], self.fitted(" ".join(lines[lines_most - 1 :]))]
        for line in lines:
            self.y_mm += points * MM_PER_POINT * LINE_STEP
            self.put(line, MARGIN_MM)

    def letters(
        self, points: float, *, bold: bool = False, ink: tuple[int, int, int] = INK
    ) -> None:
        """Choose how what follows is written."""
        self.pdf.set_font(FONT, "B" if bold else "", points)
        self.pdf.set_text_color(*ink)

    def lines_of(self, text: str, width_mm: float) -> Iterator[str]:
        """Yield a text in lines no wider than that; a word that is wider is cut."""
        line = ""
        for word in text.split():
            longer = f"{line} {word}".strip()
            if self.length(longer) <= width_mm:
                line = longer
                continue
            if line:
                yield line
            line = ""
            for sign in word:
                if line and self.length(line + sign) > width_mm:
                    yield line
                    line = ""
                line += sign
        if line:
            yield line

    def fitted(self, text: str, width_mm: float = 0.0) -> str:
        """Return a text cut to one line."""
        width_mm = width_mm or self.width_mm
        if self.length(text) <= width_mm:
            return text
        fits = bisect_left(
            range(len(text)), True, key=lambda count: self.length(f"{text[:count]}…") > width_mm
        )
        return f"{text[: max(fits - 1, 0)].rstrip()}…"

    def length(self, text: str) -> float:
        """Return how long a line is, in the letters chosen [mm]."""
        return sum(self.length_of(run) for run in runs_of(text))

    def length_of(self, run: Run) -> float:
        if run.picture is None:
            return float(self.pdf.get_string_width(run.text))
        return run.width * float(self.pdf.font_size)

    def put(self, text: str, x_mm: float, *, right_of_mm: float | None = None) -> None:
        """Write a line at the height reached, from a place on or up to `right_of_mm`."""
        if right_of_mm is not None:
            x_mm = right_of_mm - self.length(text)
        height = float(self.pdf.font_size)
        for run in runs_of(text):
            if run.picture is None:
                self.pdf.text(x_mm, self.y_mm, run.text)
            else:
                y_mm = self.y_mm - BASELINE * height
                self.pdf.image(
                    run.picture, x_mm, y_mm, h=PICTURE_HEIGHT * height, alt_text=run.text
                )
            x_mm += self.length_of(run)

    def picture(self, picture: Image.Image, *, width_mm: float, alt: str) -> None:
        """Set a picture down in the middle, `width_mm` wide."""
        height_mm = width_mm * picture.height / picture.width
        left_mm = (float(self.pdf.w) - width_mm) / 2
        self.pdf.image(picture, left_mm, self.y_mm, w=width_mm, alt_text=alt)
        self.y_mm += height_mm

    def row(self, columns: Sequence[Column], cells: Sequence[str], *, points: float) -> None:
        """Write a row of a table with a line below it."""
        step = points * MM_PER_POINT
        self.y_mm += step * LINE_STEP
        for column, cell in zip(columns, cells, strict=True):
            text = self.fitted(cell, column.width_mm)
            end = column.x_mm + column.width_mm if column.right else None
            self.put(text, column.x_mm, right_of_mm=end)
        self.y_mm += 0.4 * step
        self.pdf.set_draw_color(*RULE_INK)
        self.pdf.set_line_width(0.15)
        self.pdf.line(MARGIN_MM, self.y_mm, MARGIN_MM + self.width_mm, self.y_mm)

    def bytes(self) -> bytes:
        return bytes(self.pdf.output())


def row_height_mm(points: float) -> float:
    """Return how high a row of a table is [mm]."""
    return points * MM_PER_POINT * (LINE_STEP + 0.4)
