"""The entries that one line of a keeper's history makes: notes, water, light, spots, sizes.

Each is an unsaved row that its model has checked, or the line is refused with a sentence.
"""

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.core.exceptions import ValidationError

from apps.common.numbers import parse_number, shorten, whole_number
from apps.common.units import parse_length_cm
from apps.corals.colour_models import CoralSize
from apps.corals.condition import strength_of
from apps.corals.history.columns import Column
from apps.corals.history.naming import Corals, LeftOut, Unanswered
from apps.corals.history.spellings import (
    SignReading,
    is_short,
    plain_words,
    read_condition,
    read_signs,
)
from apps.corals.history.table import Answers, HistoryTable, Line
from apps.corals.models import Coral, HealthNote, Spot, WaterEvent
from apps.corals.water.amounts import read_amount
from apps.corals.water.importing import KIND_WORDS, sound_event
from apps.lighting.change.factor import parse_factor
from apps.lighting.models import LightChange
from apps.photics.limits import LEVEL_MAX_PERCENT
from apps.tanks.models import Tank

WORDS, OUT = "words", "out"
PLACE = {"x": "x_cm", "y": "y_cm", "depth": "depth_cm"}
# What a keeper writes of a light change, by its reason; the first that is met counts.
REASON_WORDS = {
    "lens": ("lens", "lenses", "optic", "optics", "diffuser", "reflector"),
    "tubes": ("tube", "tubes", "bulb", "bulbs"),
    "cleaned": ("cleaned", "wiped", "salt"),
    "raised": ("raised", "higher", "lifted"),
    "lowered": ("lowered",),
    "hours": ("photoperiod", "hours", "schedule"),
    "moved": ("moved", "turned", "tilted", "shifted"),
    "hung": ("hung", "added", "took down", "taken down", "new light", "new lamp", "mounted"),
    "level": ("level", "intensity", "percent", "dimmed", "brighter", "turned up", "turned down"),
}
# Kinds of the water log that words alone may name; the others need a value.
EVENT_KINDS = ("water_change", "pest", "dosing", "equipment", "animals")
_PERCENT = re.compile(r"\s*(%|percent)$", re.IGNORECASE)


@dataclass(frozen=True)
class Entry:
    """One unsaved, sound row of the history, and the line it stands on."""

    kind: str  # one of history_models.ADDED
    number: int
    row: Any
    coral: Coral | None = None
    is_known: bool = False  # the tank holds it already

    @property
    def words(self) -> str:
        """Return it as a preview says it."""
        row = self.row
        if isinstance(row, HealthNote):
            return f"{self.coral}: {row.in_words()}" + (f" · {row.text}" if row.text else "")
        if isinstance(row, Spot):
            return f"{self.coral}: at {row.x_cm:g}, {row.y_cm:g}, {row.depth_cm:g}\u00a0cm"
        if isinstance(row, CoralSize):
            return f"{self.coral}: {row.diameter_cm:g}\u00a0cm across"
        if isinstance(row, LightChange):
            more = [f"light ×{row.factor:.3g}"] if row.factor != 1 else []
            more += [f"{row.day_hours:g}\u00a0h a day"] if row.day_hours is not None else []
            return ", ".join([row.title, *more])
        return str(row.in_words())


class LineReader:
    """Reads the lines of one table, in order of time, for one tank."""

    def __init__(self, table: HistoryTable, *, tank: Tank, corals: Corals, answers: Answers):
        self.table, self.tank, self.corals, self.answers = table, tank, corals, answers
        self.level: float | None = None
        self.hours: float | None = None
        # Spellings to be asked for: {plain words: (as written, how often)}.
        self.unknown_signs: dict[str, list[str]] = {}
        self.unknown_conditions: dict[str, list[str]] = {}

    def entries(self, line: Line, moment: dt.datetime) -> Iterator[Entry | Exception]:
        """Yield each entry of a line, and for each part of it that is refused what is wrong."""
        day = moment.astimezone(self.tank.zone).date()
        for kind, read in self._parts(line, moment, day):
            try:
                made = read()
            except LeftOut:
                continue
            except ValidationError as problem:
                yield ValueError(" ".join(problem.messages))
            except ValueError as problem:
                yield problem
            else:
                if made is not None:
                    yield Entry(kind, line.number, made, getattr(made, "coral", None))

    def _parts(self, line: Line, moment: dt.datetime, day: dt.date) -> Iterator[tuple[str, Any]]:
        """Yield (kind, what makes the row) of all that a line may hold."""
        text = self.table.text
        if name := text(line, "coral"):
            yield "spot", lambda: self._spot(line, name, day)
            yield "size", lambda: self._size(text(line, "size"), name, day, "size")
            yield "note", lambda: self._note(line, name, moment)
        elif any(text(line, role) for role in ("seen", "condition", "size", *PLACE)):
            yield "note", self._nameless
        elif words := text(line, "text"):
            yield "water", lambda: self._event(words, moment)
        for column in self.table.of_role("coral_notes"):
            yield "note", lambda c=column: self._coral_cell(line, c, moment)
        for column in self.table.of_role("coral_sizes"):
            yield "size", lambda c=column: self._size(line.cell(c), c.name, day)
        for column in self.table.columns:
            if column.water_kind and line.cell(column):
                yield "water", lambda c=column: self._reading(line.cell(c), c, moment)
        if text(line, "value") or text(line, "kind"):
            yield "water", lambda: self._long_reading(line, moment)
        if words := text(line, "events"):
            yield "water", lambda: self._event(words, moment)
        yield "light", lambda: self._light(line, moment)

    def _nameless(self) -> None:
        raise ValueError("Names no coral.")

    # Notes

    def _note(self, line: Line, name: str, moment: dt.datetime) -> HealthNote | None:
        text = self.table.text
        seen, how, words = (text(line, role) for role in ("seen", "condition", "text"))
        if not (seen or how or words):
            return None
        coral = self.corals.coral(name, self._day(moment))
        condition = self._condition(how)
        signs = self._signs(seen) if seen else read_signs(words)
        said = [kept_words(seen, signs), words]
        return self._sound_note(coral, line, moment, signs, condition, said)

    def _coral_cell(self, line: Line, column: Column, moment: dt.datetime) -> HealthNote | None:
        """Return the note of a cell below a coral's name: signs where it tells some, and words."""
        cell = line.cell(column)
        if not cell:
            return None
        coral = self.corals.coral(column.name, self._day(moment))
        signs = read_signs(cell, also=self._chosen(self.answers.signs))
        if not signs.signs and is_short(cell):
            signs = self._signs(cell)
        return self._sound_note(coral, line, moment, signs, None, [kept_words(cell, signs)])

    def _day(self, moment: dt.datetime) -> dt.date:
        return moment.astimezone(self.tank.zone).date()

    def _sound_note(
        self,
        coral: Coral,
        line: Line,
        moment: dt.datetime,
        signs: SignReading,
        condition: int | None,
        words: Sequence[str],
    ) -> HealthNote:
        main, *also = signs.signs or (self._sign_of(condition),)
        local = moment.astimezone(self.tank.zone)
        note = HealthNote(
            coral=coral,
            noted_on=local.date(),
            noted_time=local.time().replace(second=0, microsecond=0) if line.has_time else None,
            noted_by=self.table.text(line, "noted_by"),
            condition=condition,
            seen=main,
            also_seen=[str(sign) for sign in also],
            strength=signs.strength or strength_of(condition),
            where=signs.where,
            text=". ".join(filter(None, words)),
        )
        note.full_clean(exclude=["coral", "created_by"], validate_constraints=False)
        return note

    def _sign_of(self, condition: int | None) -> str:
        """Return the sign of a note that names none: words alone are “something else”."""
        is_well = condition is not None and condition > HealthNote.Condition.POOR
        return HealthNote.Seen.WELL if is_well else HealthNote.Seen.OTHER

    def _signs(self, cell: str) -> SignReading:
        """Return the signs of a cell, or ask for a spelling that is not known."""
        answer = self.answers.signs.get(plain_words(cell), "")
        if answer == OUT:
            raise LeftOut
        if answer == WORDS:
            return SignReading()
        signs = read_signs(cell, also=self._chosen(self.answers.signs))
        if not signs.signs or (is_short(cell) and not signs.is_whole and not answer):
            if not is_short(cell):
                return SignReading()
            self.unknown_signs.setdefault(plain_words(cell), []).append(cell)
            if not signs.signs:
                raise Unanswered(f"What is “{shorten(cell)}”? Choose above.")
        elif answer:
            self.unknown_signs.setdefault(plain_words(cell), []).append(cell)
        return signs

    def _chosen(self, answers: Any) -> dict[str, str]:
        return {word: sign for word, sign in answers.items() if sign in HealthNote.Seen.values}

    def _condition(self, cell: str) -> int | None:
        if not cell:
            return None
        plain = plain_words(cell)
        answer = self.answers.conditions.get(plain, "")
        if answer == OUT:
            raise LeftOut
        if (chosen := whole_number(answer)) in HealthNote.Condition.values:
            self.unknown_conditions.setdefault(plain, []).append(cell)
            return chosen
        result = read_condition(cell)
        if result is None:
            self.unknown_conditions.setdefault(plain, []).append(cell)
            if answer == WORDS:
                return None
            raise Unanswered(f"How is “{shorten(cell)}”? Choose above.")
        return result

    # Spots and sizes

    def _spot(self, line: Line, name: str, day: dt.date) -> Spot | None:
        texts = {field: self.table.text(line, role) for role, field in PLACE.items()}
        if not any(texts.values()):
            return None
        if not all(texts.values()):
            raise ValueError("Give all three numbers of the place, or none.")
        coral = self.corals.coral(name, day)
        unit = self.answers.length_unit
        place = {
            field: self._length(text, role)
            for (role, field), text in zip(PLACE.items(), texts.values(), strict=True)
        }
        if outside := self.tank.point_errors(**place, unit=unit):
            raise ValidationError(outside)
        spot = Spot(coral=coral, since=day, **place)
        spot.full_clean(exclude=["coral"], validate_constraints=False)
        return spot

    def _size(self, cell: str, name: str, day: dt.date, role: str = "") -> CoralSize | None:
        if not cell:
            return None
        coral = self.corals.coral(name, day)
        across = self._length(cell, role)
        size = CoralSize(coral=coral, measured_on=day, diameter_cm=across)
        size.full_clean(exclude=["coral", "photo"], validate_constraints=False)
        return size

    def _length(self, text: str, role: str) -> float:
        """Return a length; one without a unit is in that of the heading, else the chosen one."""
        column = self.table.first(role)
        words = plain_words(column.heading).split() if column else []
        named = next((w for w in reversed(words) if w in ("cm", "mm", "m", "in", "inches")), "")
        return parse_length_cm(text, named or self.answers.length_unit)

    # Water

    def _reading(self, cell: str, column: Column, moment: dt.datetime) -> WaterEvent:
        value, unit, words = self._amount(cell)
        about, unit = column.about, unit or column.unit
        if column.water_kind == WaterEvent.Kind.OTHER and about == column.water_kind:
            # Of no kind that has a name here: the heading says what it is.
            words = ", ".join(filter(None, [column.name, words]))
        return sound_event(
            tank=self.tank, moment=moment, about=about, value=value, unit=unit, text=words
        )

    def _amount(self, cell: str) -> tuple[float, str, str]:
        return read_amount(cell, has_decimal_commas=self.table.has_decimal_commas)

    def _long_reading(self, line: Line, moment: dt.datetime) -> WaterEvent:
        text = self.table.text
        cell, unit, about = text(line, "value"), text(line, "unit"), text(line, "kind")
        value, own, words = self._amount(cell) if cell else (None, "", "")
        said = ", ".join(filter(None, [words, text(line, "events")]))
        return sound_event(
            tank=self.tank, moment=moment, about=about, value=value, unit=own or unit, text=said
        )

    def _event(self, words: str, moment: dt.datetime) -> WaterEvent:
        single = plain_words(words).split()
        said = {*single, *map(" ".join, pairwise(single))}
        kind = next((k for k in EVENT_KINDS if said & KIND_WORDS[WaterEvent.Kind(k)]), "other")
        event = WaterEvent(tank=self.tank, happened_at=moment, kind=kind, text=words)
        event.full_clean(exclude=["tank", "created_by"], validate_constraints=False)
        return event

    # Light

    def _light(self, line: Line, moment: dt.datetime) -> LightChange | None:
        text = self.table.text
        words, stated = text(line, "light"), text(line, "factor")
        factor, is_stated = parse_factor(stated) if stated else 1.0, bool(stated)
        ratio, hours = self._level_ratio(text(line, "level")), self._new_hours(text(line, "hours"))
        if not (words or is_stated or ratio != 1.0 or hours is not None):
            return None
        reason = reason_of(words)
        if not words and reason == LightChange.Reason.OTHER:
            by_light = is_stated or ratio != 1.0
            reason = LightChange.Reason.LEVEL if by_light else LightChange.Reason.HOURS
        change = LightChange(
            tank=self.tank,
            happened_at=moment,
            reason=reason,
            summary=words,
            factor=round(factor if is_stated else ratio, 6),
            day_hours=hours,
        )
        change.full_clean(exclude=["tank", "created_by"], validate_constraints=False)
        return change

    def _level_ratio(self, cell: str) -> float:
        """Return the light after a line for 1 before by its level, 1 where nothing changed."""
        if not cell:
            return 1.0
        level = parse_number(_PERCENT.sub("", cell))
        if not 0 <= level <= LEVEL_MAX_PERCENT:
            raise ValueError(f"A level is from 0 to {LEVEL_MAX_PERCENT:g} %.")
        before, self.level = self.level, level
        if not before or not level:
            if before is None or before == level:
                return 1.0
            raise ValueError("A level of 0 says nothing of how much light comes after it.")
        return level / before

    def _new_hours(self, cell: str) -> float | None:
        """Return a day's hours of light where they differ from those of the line before."""
        if not cell:
            return None
        hours = parse_number(cell, words=("h", "hour", "hours", "hrs"))
        before, self.hours = self.hours, hours
        return None if before == hours else hours


def kept_words(cell: str, signs: SignReading) -> str:
    """Return a cell's own words where they are more than the name of its one sign."""
    if signs.is_whole and signs.signs == (HealthNote.Seen.WELL,):
        return ""
    names = {plain_words(HealthNote.Seen(sign).label) for sign in signs.signs}
    plain = {plain_words(cell), plain_words(cell.partition(":")[0])}
    return "" if len(signs.signs) == 1 and plain & (names | set(signs.signs)) else cell


def reason_of(words: str) -> str:
    """Return the reason of a light change that its words name, else “something else”."""
    said = f" {plain_words(words)} "
    for reason, known in REASON_WORDS.items():
        if any(f" {word} " in said for word in known):
            return LightChange.Reason(reason)
    return LightChange.Reason.OTHER
