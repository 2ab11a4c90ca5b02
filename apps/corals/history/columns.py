"""Which column of a keeper's history holds what: guessed by its heading and cells, then chosen."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.common.tables.reading import heading_words, is_missing
from apps.corals.history.spellings import plain_words, read_signs
from apps.corals.models import WaterEvent
from apps.corals.water.importing import KIND_WORDS

COLUMNS_MOST = 60
SAMPLES = 3
# A water value's column is "water:" with its kind, so that each kind of the log is one.
WATER = "water:"
# (role, what it is called), grouped as the page offers them.
ROLES = {
    "When": {"date": "date", "time": "time of day"},
    "A note of a coral": {
        "coral": "coral’s name",
        "seen": "what is seen (pale, rtn ...)",
        "condition": "how it is as a whole",
        "text": "note in words",
        "noted_by": "who saw it",
        "group": "group (SPS, LPS ...)",
    },
    "A coral has this column": {
        "coral_notes": "notes of this coral",
        "coral_sizes": "sizes of this coral",
    },
    "Its spot and size": {
        "x": "from the left end",
        "y": "from the front pane",
        "depth": "below the surface",
        "size": "size across",
    },
    "Light": {
        "light": "what was done, in words",
        "factor": "light after for 1 before (0.8, -20 %)",
        "level": "level of the lights, %",
        "hours": "hours of light a day",
    },
    "Water, one reading a line": {"kind": "what was measured", "value": "value", "unit": "unit"},
    "Water": {
        **{f"{WATER}{kind.value}": kind.label for kind in WaterEvent.Kind},
        "events": "what happened, in words",
    },
}
EVERY_ROLE = {role: words for group in ROLES.values() for role, words in group.items()}
# Roles that more than one column may have.
MANY = {"coral_notes", "coral_sizes", "text", "events"}
HEADINGS = {
    "date": {"date", "day", "when", "datum"},
    "time": {"time", "clock"},
    "coral": {"coral", "corals", "name", "colony", "frag", "animal"},
    "seen": {"seen", "sign", "signs", "symptom", "symptoms", "looks", "observation", "status"},
    "condition": {"condition", "health"},
    "text": {"note", "notes", "comment", "comments", "remark", "remarks", "text", "words"},
    "noted_by": {"by", "who", "observer", "keeper"},
    "group": {"group", "type"},
    "x": {"x", "left"},
    "y": {"y", "front"},
    "depth": {"depth", "z"},
    "size": {"size", "diameter", "across"},
    "level": {"level", "intensity"},
    "hours": {"hours", "photoperiod"},
    "factor": {"factor"},
    "kind": {"kind", "parameter", "measured"},
    "value": {"value", "amount", "result", "reading"},
    "unit": {"unit", "units"},
    "light": {"light", "lights", "lamp", "lamps", "lighting"},
    "events": {"event", "events", "happened", "maintenance", "incident"},
}
# What a value is in where its heading says nothing, by the words of the heading: what is usual,
# shown to the keeper before anything is added.
USUAL_UNITS = {
    "dKH": {"alk", "alkalinity", "kh", "dkh"},
    "pH": {"ph"},
    "mg/L": {
        "ca", "calcium", "mg", "magnesium", "no3", "nitrate", "po4", "phosphate", "nitrite",
        "ammonia", "potassium", "k", "nutrients",
    },
    "mV": {"orp", "redox"},
}  # fmt: skip
WARM_FROM = 45.0
SALT_AS_DENSITY_BELOW = 2.0
_IN_BRACKETS = re.compile(r"[(\[]\s*([^)\]]+?)\s*[)\]]")
# A unit that stands in a heading without brackets: “NO3 mg/l”.
_BARE_UNIT = re.compile(
    r"(?<![\w/])(mg/l|µg/l|ug/l|ppm|ppb|ppt|psu|dkh|meq/l|mmol/l|mv|µs/cm|ms/cm)(?![\w/])",
    re.IGNORECASE,
)
_DEGREES = re.compile(r"°\s*([CF])\b|\bdeg(?:rees)?\s*([CF])\b", re.IGNORECASE)


@dataclass(frozen=True)
class Column:
    """One column of a table: its heading, some of its cells, what it holds and in which unit."""

    index: int
    heading: str
    samples: tuple[str, ...]
    role: str = ""
    unit: str = ""

    @property
    def name(self) -> str:
        return self.heading or f"Column {self.index + 1}"

    @cached_property
    def water_kind(self) -> str:
        return self.role.removeprefix(WATER) if self.role.startswith(WATER) else ""

    @cached_property
    def about(self) -> str:
        """Return what its water values are of, as the log takes it: its heading without a unit."""
        bare = _IN_BRACKETS.sub(" ", self.heading)
        for unit in (_DEGREES, _BARE_UNIT):
            bare = unit.sub(" ", bare)
        said = " ".join(bare.replace("_", " ").split())
        return said if self.water_kind in kinds_named(said) else self.water_kind


def read_columns(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    corals: Mapping[str, object],
    roles: Mapping[int, str],
    units: Mapping[int, str],
) -> list[Column]:
    """Return the Columns of a table, each with the role chosen for it or guessed.

    `corals` are those of the tank by their plain names. A role is guessed once, for the first
    column that it fits, unless many may have it.
    """
    width = min(max(len(header), *(len(row) for row in rows[:200]), 0), COLUMNS_MOST)
    result: list[Column] = []
    taken = set(roles.values()) - MANY
    for at in range(width):
        heading = header[at].strip() if at < len(header) else ""
        cells = [row[at] for row in rows if at < len(row) and row[at] and not is_missing(row[at])]
        role = roles.get(at)
        if role is None:
            role = guessed_role(heading, cells, corals)
            if role in taken or (role.startswith(WATER) and not _are_numbers(cells)):
                role = ""
        role = role if role in EVERY_ROLE else ""
        taken |= {role} - MANY - {r for r in EVERY_ROLE if r.startswith(WATER)}
        unit = units.get(at, usual_unit(heading, cells, role))
        samples = tuple(shorten(cell, 18) for cell in dict.fromkeys(cells))[:SAMPLES]
        result.append(Column(at, heading, samples, role, unit))
    return _without_tank_notes(_by_the_corals_column(result, roles, corals))


def guessed_role(heading: str, cells: Sequence[str], corals: Mapping[str, object]) -> str:
    """Return the role that a heading and the cells below it speak for, "" for none."""
    if plain_name(heading) in corals:
        return "coral_sizes" if cells and _are_numbers(cells) else "coral_notes"
    words = set(heading_words(heading)) | set(plain_words(heading).split())
    exact = [role for role, known in HEADINGS.items() if words & known]
    if "light" in exact and ("%" in heading or _are_numbers(cells)):
        return "level"
    if "hours" in exact or "level" in exact:
        return "hours" if "hours" in exact else "level"
    kinds = kinds_named(heading)
    if kinds and not {"date", "coral"} & set(exact):
        return WATER + kinds[0]
    if exact:
        return exact[0]
    said = [cell for cell in cells[:50] if read_signs(cell).signs]
    return "coral_notes" if heading and said and len(said) * 4 >= len(cells[:50]) else ""


def kinds_named(text: str) -> list[str]:
    """Return the kinds of the water log that a text names."""
    said = plain_words(text)
    words = {*said.split(), said}
    named = [kind for kind, known in KIND_WORDS.items() if words & known]
    named += [kind for kind in WaterEvent.Kind if kind.label == said or kind.value == said]
    return list(dict.fromkeys(str(kind.value) for kind in named))


def usual_unit(heading: str, cells: Sequence[str], role: str) -> str:
    """Return the unit of a column's water values: as its heading says, else what is usual."""
    if not role.startswith(WATER):
        return ""
    if degrees := _DEGREES.search(heading):
        return f"°{(degrees[1] or degrees[2]).upper()}"
    if bracket := _IN_BRACKETS.search(heading):
        return bracket[1]
    if bare := _BARE_UNIT.search(heading):
        return bare[1]
    numbers = _numbers(cells)
    middle = sorted(numbers)[len(numbers) // 2] if numbers else 0.0
    words = set(plain_words(heading).split())
    if role == WATER + WaterEvent.Kind.TEMPERATURE:
        return "°F" if middle > WARM_FROM else "°C"
    if "salinity" in words or role == f"{WATER}salinity":
        return "sg" if middle < SALT_AS_DENSITY_BELOW else "ppt"
    return next((unit for unit, known in USUAL_UNITS.items() if words & known), "")


def plain_name(name: str) -> str:
    """Return a coral's name so that capitals and spaces make no other one of it."""
    return "".join(name.casefold().split())


def _without_tank_notes(columns: list[Column]) -> list[Column]:
    """Return the columns; words are of what happened where no column names the coral."""
    if any(column.role == "coral" for column in columns):
        return columns
    return [
        Column(c.index, c.heading, c.samples, "events", c.unit) if c.role == "text" else c
        for c in columns
    ]


def _by_the_corals_column(
    columns: list[Column], roles: Mapping[int, str], corals: Mapping[str, object]
) -> list[Column]:
    """Return the columns with signs taken as those of the coral that a line names.

    Where one column names the coral, another is no coral's own unless its heading is one's name.
    """
    held = {column.role for column in columns}
    if "coral" not in held:
        return columns
    result = []
    for column in columns:
        is_guess = column.role == "coral_notes" and column.index not in roles
        if is_guess and plain_name(column.heading) not in corals:
            column = replace(column, role="text" if "seen" in held else "seen")
            held.add("seen")
        result.append(column)
    return result


def _numbers(cells: Sequence[str]) -> list[float]:
    numbers = []
    for cell in cells:
        try:
            numbers.append(parse_number(cell, words=("%", "h", "cm", "mm", "in")))
        except UnreadableNumber:
            continue
    return numbers


def _are_numbers(cells: Sequence[str]) -> bool:
    """Whether a quarter of the cells begin with a number: a value among words is still one."""
    begun = [cell for cell in cells if re.match(r"^[<>~≈]?\s*[+-]?\d", cell)]
    return bool(cells) and 4 * len(begun) >= len(cells)
