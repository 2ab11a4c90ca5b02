"""Reading a table of water events: pure parsing, no request and no query in it."""

import datetime as dt
import re
from contextlib import suppress
from dataclasses import dataclass, replace

from django.core.exceptions import ValidationError

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.common.tables.date_order import DateOrder, date_order
from apps.common.tables.dates import read_moment
from apps.common.tables.decimal_mark import has_decimal_commas
from apps.common.tables.reading import (
    HEADER_WITHIN,
    BadLine,
    UnreadableTable,
    filled_lines,
    read_each,
    split_line,
    text_of,
    usual_delimiter,
    without_empty_end,
)
from apps.corals.models import WaterEvent
from apps.corals.water.amounts import read_amount
from apps.corals.water.probe import Thinned, probed_kind, thin_out, unit_in, usual_unit
from apps.later.progress import unheard

# In this order without a header. Each with the words its heading may hold.
COLUMNS = {
    "date": {"date", "day", "when"},
    "kind": {"kind", "about", "type", "event", "parameter"},
    "value": {"value", "amount", "reading", "result"},
    "unit": {"unit", "units"},
    "text": {"note", "notes", "text", "words", "comment"},
    "harm": {"hurt", "harm", "harmful"},
}
# A clock in its own column, only where a header says so.
TIME_WORDS = {"time", "hour", "clock"}
STAMP_WORDS = {"timestamp", "datetime"}
KIND_WORDS = {
    WaterEvent.Kind.TEMPERATURE: {"temperature", "temp"},
    WaterEvent.Kind.ALKALINITY: {"alkalinity", "alk", "kh", "dkh"},
    WaterEvent.Kind.NUTRIENTS: {
        "nutrients", "nutrient", "nitrate", "no3", "phosphate", "po4", "nitrite", "ammonia",
    },
    WaterEvent.Kind.SALINITY: {"salinity", "salt", "sg"},
    WaterEvent.Kind.CALCIUM: {"calcium", "ca"},
    WaterEvent.Kind.PH: {"ph"},
    WaterEvent.Kind.DOSING: {"dosing", "dose", "dosed"},
    WaterEvent.Kind.PEST: {"pest", "pests", "disease", "parasite"},
    WaterEvent.Kind.ANIMALS: {"animals", "animal", "fish", "livestock"},
    WaterEvent.Kind.WATER_CHANGE: {"water change", "waterchange", "wc"},
    WaterEvent.Kind.EQUIPMENT: {"equipment", "pump", "skimmer", "heater", "filter"},
    WaterEvent.Kind.OTHER: {"other", "else", "magnesium", "mg", "potassium", "orp"},
}  # fmt: skip
# Words that name no more than the kind itself.
PLAIN_WORDS = {"nutrients", "nutrient", "other", "else"}
YES = {"yes", "y", "true", "1", "x"}
NO = {"", "no", "n", "false", "0"}
_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Layout:
    """How lines fall into columns: the sign between them and where each stands."""

    sign: str
    places: dict  # {column: index}
    header: str  # the header line as it was, empty without one
    width: int
    above: int  # lines that end with the header: a title may stand above it
    probed: str = ""  # the kind that a probe's one column holds, empty for a table of events
    unit: str = ""  # of that column, where its heading says one
    unread: tuple = ()  # headings of other values beside it
    has_decimal_commas: bool = False  # among its values


@dataclass(frozen=True)
class GoodLine:
    number: int
    text: str
    event: WaterEvent


@dataclass(frozen=True)
class ParsedEvents:
    header: str  # as it was, empty without one
    good: tuple[GoodLine, ...]
    bad: tuple[BadLine, ...]
    dates: str  # the DateOrder its lines tell or the keeper chose, "" where neither does
    thinned: Thinned  # what is kept of the good lines
    unread: tuple  # what stands above the header, and headings of further values in a line

    def good_text(self):
        return text_of(self.good, header=self.header)

    def bad_text(self):
        return text_of(self.bad)


def parse_events(text, *, tank, first_number=1, dates="", progress=unheard):
    """Return the ParsedEvents of a text; times without an offset are by the tank's clock.

    `dates` says which stands first in dates with slashes (a DateOrder), "" leaves it to all lines
    together: where they don't tell, those that can be read two ways are bad lines. `progress`
    hears how many lines are read.
    Raises UnreadableTable when the text is too long, is no text or has no line.
    """
    lines = filled_lines(text, first_number=first_number)
    if not lines:
        raise UnreadableTable("There are no lines in it. Paste or choose a table of the water log.")
    layout = _lay_out([line for _, line in lines])
    below = lines[layout.above :]
    rows, at = [split_line(line, layout.sign) for _, line in below], layout.places["date"]
    order = date_order([cells[at] for cells in rows if at < len(cells)], dates)
    value = layout.places.get("value", layout.width)
    values = [cells[value] for cells in rows if value < len(cells)]
    layout = replace(layout, has_decimal_commas=has_decimal_commas(values))
    good, bad = read_each(heard(below, progress), lambda line: _read(line, layout, tank, order))
    lines_read = tuple(GoodLine(*line) for line in good)
    thinned = thin_out([line.event for line in lines_read], tank.zone)
    titles = [line for _, line in lines[: layout.above - 1]] if layout.above else []
    unread = (*titles, *layout.unread)
    return ParsedEvents(layout.header, lines_read, bad, order or "", thinned, unread)


def heard(lines, progress):
    """Yield lines, saying how many of them went by."""
    for done, line in enumerate(lines):
        progress(done, len(lines), "lines")
        yield line


def _lay_out(lines):
    """Return the Layout of the filled lines: by a header if there is one, by order if not."""
    sign = usual_delimiter(lines)
    for above, line in enumerate(lines[:HEADER_WITHIN], start=1):
        cells = split_line(line, sign)
        if any(map(_is_value, cells)):
            continue
        if places := _headings(cells):
            return Layout(sign, places, line, len(cells), above)
        if (probe := _probe_layout(cells, line, sign, above)) is not None:
            return probe
    return Layout(sign, {name: at for at, name in enumerate(COLUMNS)}, "", len(COLUMNS), 0)


def _is_value(cell):
    """Return whether a cell is a number or a moment, which no heading is."""
    for order in DateOrder:
        with suppress(ValueError):
            return bool(read_moment(cell, order=order, zone=dt.UTC))
    with suppress(UnreadableNumber):
        return parse_number(cell) is not None
    return False


def _headings(cells):
    """Return {column: index} of a header, empty when the line is none."""
    places = {}
    for at, cell in enumerate(cells):
        words = {word.lower() for word in _WORD.findall(cell)}
        name = next((n for n, known in COLUMNS.items() if words & known), None)
        if name is None and words & TIME_WORDS:
            name = "time"
        if name:
            places.setdefault(name, at)
    return places if {"date", "kind"} <= places.keys() else {}


def _probe_layout(cells, header, sign, above):
    """Return the Layout of a probe's file: a date and one value a line; None where it is none."""
    places, kind, unit, others = {}, None, "", []
    for at, cell in enumerate(cells):
        words = {word.lower() for word in _WORD.findall(cell)}
        if "date" not in places and words & (COLUMNS["date"] | STAMP_WORDS):
            places["date"] = at
        elif "time" not in places and words & TIME_WORDS:
            places["time"] = at
        elif kind is None and (kind := probed_kind(words)) is not None:
            places["value"], unit = at, unit_in(cell)
        elif any(words & known for known in KIND_WORDS.values()):
            others.append(cell)
    if "date" not in places and "time" in places:
        # One column named "time" holds date and clock.
        places["date"] = places.pop("time")
    if kind is None or "date" not in places:
        return None
    return Layout(
        sign, places, header, len(cells), above, probed=kind, unit=unit, unread=tuple(others)
    )


def _read(line, layout, tank, order):
    """Return an unsaved, sound WaterEvent of one line, or raise ValueError with a sentence."""
    cells = without_empty_end(split_line(line, layout.sign), layout.width)
    if len(cells) > layout.width:
        raise ValueError(
            f"Has {len(cells)} columns where {layout.width} fit. Put a note with "
            f"{'semicolons' if layout.sign == ';' else 'commas'} in quotes."
        )
    by_name = {name: cells[at] for name, at in layout.places.items() if at < len(cells)}
    cell, unit = by_name.get("value", ""), by_name.get("unit", "")
    value, own, words = None, "", ""
    if cell:
        value, own, words = read_amount(cell, has_decimal_commas=layout.has_decimal_commas)
    if own and unit and own.lower() != unit.lower():
        raise ValueError(f"It has two units, {own} and {unit}. Leave one out.")
    unit = own or unit
    about = by_name.get("kind", "")
    if layout.probed:
        if value is None:
            raise ValueError("Has no value.")
        about, unit = layout.probed, unit or layout.unit or usual_unit(layout.probed, value)
    return sound_event(
        tank=tank,
        moment=_moment(
            f"{by_name.get('date', '')} {by_name.get('time', '')}".strip(), tank.zone, order
        ),
        about=about,
        value=value,
        unit=unit,
        text=", ".join(filter(None, [words, by_name.get("text", "")])),
        could_hurt=_yes(by_name.get("harm", "")),
    )


def sound_event(*, tank, moment, about, value=None, unit="", text="", could_hurt=False):
    """Return an unsaved, sound WaterEvent, or raise ValueError with a sentence.

    `about` is what it is of as a keeper writes it: a kind, or “nitrate”, “salinity”.
    """
    kind = _kind(about)
    event = WaterEvent(
        tank=tank,
        happened_at=moment,
        kind=kind,
        value=value,
        unit=unit,
        text=_named(kind, about, text),
        could_hurt=could_hurt,
    )
    try:
        event.full_clean(exclude=["tank", "created_by"], validate_constraints=False)
    except ValidationError as problem:
        raise ValueError(" ".join(problem.messages)) from None
    return event


def _moment(text, zone, order):
    if not text:
        raise ValueError("Has no date.")
    return read_moment(text, order=order, zone=zone)


def _kind(text):
    said = text.strip().lower()
    words = {*_WORD.findall(said), said}
    for kind, known in KIND_WORDS.items():
        if words & known or said in (kind.value, kind.label):
            return kind
    choices = ", ".join(kind.label for kind in WaterEvent.Kind)
    raise ValueError(f"“{shorten(text)}” is none of the kinds: {choices}.")


def _named(kind, said, text):
    """Return the words of a line, with what its kind leaves out: "nitrate", "salinity"."""
    said = said.strip()
    is_plain = said.lower() in PLAIN_WORDS or said.lower() == kind.label
    if kind not in (WaterEvent.Kind.NUTRIENTS, WaterEvent.Kind.OTHER) or is_plain:
        return text
    return f"{said}, {text}" if text else said


def _yes(text):
    said = text.strip().lower()
    if said in YES | NO:
        return said in YES
    raise ValueError(f"“{shorten(text)}” should say yes or no: could it have hurt corals?")
