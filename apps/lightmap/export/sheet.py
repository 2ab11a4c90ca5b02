"""The light map on one sheet of paper: what it says, in the words and numbers of the page."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.template.defaultfilters import pluralize
from django.utils import timezone

from apps.common.templatetags.reef import par
from apps.common.units import format_length
from apps.lightmap.page.map_page import LitPage
from apps.lightmap.page.picture import (
    PER_AREA_AND_TIME,
    PictureWords,
    notes_of,
    picture_of,
    words_of,
)
from apps.lightmap.page.planes import PinLight
from apps.lightmap.pins import UNKNOWN, WITHIN

NO_WORDS = PictureWords(title="", about="", caption="", scale="")


@dataclass(frozen=True)
class CoralLine:
    """A coral's line of the table: its number on the drawing, name, light and band."""

    number: str
    name: str
    par: str
    span: str  # nine times out of ten
    band: str
    state: str


@dataclass(frozen=True)
class Sheet:
    """What stands on the sheet, from top to foot."""

    tank_name: str
    about: str  # the day of the survey, and how far off
    answer: str
    svg: str  # the drawing with its legend alone
    caption: str
    scale: str
    notes: tuple[str, ...]
    corals: tuple[CoralLine, ...]  # those outside their band first
    sure: tuple[str, ...]
    made_on: dt.date

    @property
    def title(self) -> str:
        return f"Light map of {self.tank_name}"


def sheet_of(page: LitPage) -> Sheet:
    """Return the Sheet of a page whose drawings are made."""
    words = words_of(page)
    pins = page.planes.pin_lights if page.planes else ()
    outside = page.corals_outside
    return Sheet(
        tank_name="".join(sign for sign in page.tank.name if sign.isprintable()),
        about=words.about,
        answer=answer(page),
        svg=picture_of(page, words=NO_WORDS),
        caption=words.caption,
        scale=words.scale.replace(*PER_AREA_AND_TIME),
        notes=tuple(filter(None, notes_of(page, named=False))),
        corals=tuple(
            coral_line(one, page.unit)
            for one in (*outside, *(one for one in pins if one not in outside))
        ),
        sure=tuple(sure_lines(page)),
        made_on=timezone.localdate(timezone=page.tank.zone),
    )


def answer(page: LitPage) -> str:
    """Return in one or two sentences what the plane and its corals amount to."""
    facts, band = page.facts, page.query.band
    assert facts is not None  # its drawings are made
    deep = f"{format_length(page.view.depth_cm, page.unit)} {page.unit} deep"
    light = f"mean PAR {par(facts.mean_umol)} ({par(facts.min_umol)}–{par(facts.max_umol)})"
    within = ""
    if not band.problem:
        within = (
            f"; {facts.in_band_percent:.0f} % of the area is within "
            f"PAR {band.low_umol:g}–{band.high_umol:g}"
        )
    corals = corals_words(page.planes.pin_lights if page.planes else ())
    return f"{deep[0].upper()}{deep[1:]}{page.mark}: {light}{within}. {corals}".strip()


def corals_words(pins: Sequence[PinLight]) -> str:
    """Say how many corals are outside their band; "" where no light and band of any is known."""
    judged = [one for one in pins if one.state.key != UNKNOWN]
    outside = sum(one.state.key != WITHIN for one in judged)
    if not judged:
        return ""
    if outside:
        are = "is outside its" if outside == 1 else "are outside their"
        return f"{outside} coral{pluralize(outside)} of {len(pins)} {are} band."
    if len(judged) == 1:
        return "The only coral with a known light and band is inside it."
    return f"All {len(judged)} corals with a known light and band are inside it."


def coral_line(lit: PinLight, unit: str) -> CoralLine:
    """Return the line of a coral."""
    pin = lit.pin
    deep = f"{format_length(pin.depth_cm, unit)} {unit} deep"
    name = f"{pin.name}, {deep}"
    if lit.in_rock:
        return CoralLine(str(lit.number), name, "–", "in rock", band_words(lit), "")
    span = f"{par(lit.low_umol)}–{par(lit.high_umol)}"
    state = "" if lit.state.key == "unknown" else lit.state.short
    beyond = " (an estimate)" if lit.extrapolated else ""
    return CoralLine(
        str(lit.number), name, par(lit.par_umol), span, band_words(lit), f"{state}{beyond}".strip()
    )


def band_words(lit: PinLight) -> str:
    """Return the band a coral should have, a dash where none is set."""
    low, high = lit.pin.band_low_umol, lit.pin.band_high_umol
    return "–" if low is None or high is None else f"{par(low)}–{par(high)}"


def sure_lines(page: LitPage) -> Iterator[str]:
    """Yield how far the sheet can be trusted."""
    if page.light.summary.typical_error_percent is not None:
        yield "Each range holds the true PAR 9 times in 10."
    if page.is_measured and page.meter_percent:
        source = f" ({page.meter_source})" if page.meter_source else ""
        yield (
            f"The meter’s whole scale may be off by ± {page.meter_percent:.1f} %{source}; "
            "every range includes that."
        )
    elif page.is_measured:
        yield "How far the meter may be off is not stated, so no range includes it."
    if page.disagreeing:
        are = "reading does" if len(page.disagreeing) == 1 else "readings do"
        yield f"{len(page.disagreeing)} {are} not fit the rest (diamonds on the drawing)."
