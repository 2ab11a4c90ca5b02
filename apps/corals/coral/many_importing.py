"""Reading many corals from pasted lines: pure parsing, names of the tank given."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError

from apps.common.numbers import UnreadableNumber, shorten
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
from apps.common.units import parse_length_cm
from apps.corals.models import Coral, Spot

COLUMNS = ("name", "group", "left", "front", "depth", "genus", "came from")
PLACE = {"left": "x_cm", "front": "y_cm", "depth": "depth_cm"}
GROUP_WORDS = {
    Coral.Group.SOFT: ("soft", "softie", "leather"),
    Coral.Group.LPS: ("lps",),
    Coral.Group.SPS: ("sps",),
    Coral.Group.OTHER: ("other", "zoa", "mushroom", "anemone"),
}
CORALS_MAX = 500


@dataclass(frozen=True)
class NewCoral:
    """One good line: an unsaved, sound coral and its unsaved spot, None without a place."""

    text: str
    coral: Coral
    spot: Spot | None


@dataclass(frozen=True)
class ParsedCorals:
    good: tuple[NewCoral, ...]
    bad: tuple[BadLine, ...]

    def bad_text(self):
        return text_of(self.bad)


def parse_corals(text, *, tank, added_on, unit, names):
    """Return the ParsedCorals of a text, one coral a line; lengths in `unit` by default.

    `names` are those of the corals already there: a line sent again adds nobody twice.
    Raises UnreadableTable when there is no line, or too many.
    """
    lines = filled_lines(text)
    if not lines:
        raise UnreadableTable("There are no lines in it. Write one coral a line.")
    if len(lines) > CORALS_MAX:
        raise UnreadableTable(f"Add at most {CORALS_MAX} corals at once; this has {len(lines)}.")
    sign = usual_delimiter([line for _, line in lines])
    above = _lines_to_header([line for _, line in lines[:HEADER_WITHIN]], sign)
    taken = {name.lower() for name in names}

    def read(line):
        new = _read(line, sign, tank, added_on, unit, taken)
        taken.add(new.coral.name.lower())
        return new

    good, bad = read_each(lines[above:], read)
    return ParsedCorals(tuple(new for *_, new in good), bad)


def _lines_to_header(lines, sign):
    """Return how many lines end with the header, 0 without one; a title may stand above it."""
    firsts = [split_line(line, sign)[0].lower() for line in lines]
    return firsts.index("name") + 1 if "name" in firsts else 0


def _read(line, sign, tank, added_on, unit, taken):
    """Return the NewCoral of one line, or raise ValueError with a sentence."""
    cells = without_empty_end(split_line(line, sign), len(COLUMNS))
    if len(cells) > len(COLUMNS):
        raise ValueError(f"Has {len(cells)} columns where {len(COLUMNS)} fit.")
    by_column = dict(zip(COLUMNS, cells + [""] * (len(COLUMNS) - len(cells)), strict=True))
    if not by_column["name"]:
        raise ValueError("The name is missing.")
    if by_column["name"].lower() in taken:
        raise ValueError(f"“{shorten(by_column['name'])}” is in the list already.")
    coral = Coral(
        tank=tank,
        name=by_column["name"],
        group=_group(by_column["group"]),
        genus=by_column["genus"],
        came_from=by_column["came from"],
        added_on=added_on,
    )
    try:
        coral.full_clean(exclude=["tank"], validate_constraints=False)
        return NewCoral(line, coral, _spot(by_column, coral, unit))
    except ValidationError as problem:
        raise ValueError(" ".join(problem.messages)) from None


def _group(text):
    if not text:
        raise ValueError(
            "The group is missing after the name: SPS, LPS, soft or other. All lines are parted by "
            "the same sign: commas, semicolons or tabs."
        )
    said = text.lower()
    for group, words in GROUP_WORDS.items():
        if any(word in said for word in words):
            return group
    raise ValueError(f"“{shorten(text)}” is none of the groups: SPS, LPS, soft, other.")


def _spot(by_column, coral, unit):
    """Return the unsaved Spot of a line, None when no place is given."""
    if not any(by_column[name] for name in PLACE):
        return None
    if not all(by_column[name] for name in PLACE):
        raise ValueError("Give all three numbers of the place, or none.")
    try:
        place = {field: parse_length_cm(by_column[name], unit) for name, field in PLACE.items()}
    except UnreadableNumber as problem:
        raise ValueError(f"Its place: {problem}") from None
    # Asked here, since the model tells lengths in cm alone.
    if outside := coral.tank.point_errors(**place, unit=unit):
        raise ValidationError(outside)
    spot = Spot(coral=coral, since=coral.added_on, **place)
    spot.full_clean(exclude=["coral"], validate_constraints=False)
    return spot
