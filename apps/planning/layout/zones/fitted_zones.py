"""Zones that follow the measures of a tank until somebody moves them.

A row that follows carries the parts of the box it takes, the form the measures it was drawn for.
So a number typed by hand shows, with or without a script, and stays. A row that was put by hand
carries its ends and the measures they were put for: a length typed in steps stretches it once.
"""

import math
from collections.abc import Iterable, Mapping

from django.http import QueryDict

from apps.common.numbers import UnreadableNumber, whole_number
from apps.common.units import format_length, parse_length_cm
from apps.photics.ground.scene import Tank as SceneTank
from apps.planning.zone_origin import PARTS, Parts

FORM_ENDS = ("x_from", "x_to", "y_from", "y_to", "depth_from", "depth_to")
FITTED_TO = "fitted_to"
# A length shown is rounded by up to this much [cm]: half of an eighth of an inch, and a little.
SHOWN_CM = 0.2

# Length, width and depth of the water [cm].
Measures = tuple[float, float, float]


def measures_of(box: SceneTank) -> Measures:
    """Return the measures that zones follow [cm]."""
    return box.length_cm, box.width_cm, box.depth_cm


def read_measures(numbers: tuple[float, ...] | None) -> Measures | None:
    """Return three numbers as the measures of a box [cm], None where they are none."""
    if numbers is None or len(numbers) != 3 or min(numbers) <= 0:
        return None
    return numbers[0], numbers[1], numbers[2]


def numbers_text(numbers: Iterable[float]) -> str:
    """Return the text of numbers, such as measures, for a hidden field."""
    return ",".join(f"{number:.10g}" for number in numbers)


def parts_text(parts: Parts | None) -> str:
    """Return the text of parts for a hidden field, empty for none."""
    return ",".join(f"{part:.6g}" for part in parts or ())


def numbers_of(text: object, count: int) -> tuple[float, ...] | None:
    """Return the numbers of a hidden field, None unless there are so many sound ones."""
    try:
        numbers = tuple(float(part) for part in str(text or "").split(","))
    except ValueError:
        return None
    return numbers if len(numbers) == count and all(map(math.isfinite, numbers)) else None


def read_parts(text: object) -> Parts | None:
    """Return the parts of a hidden field, None where they are none of a box."""
    parts = numbers_of(text, PARTS)
    if parts is None or not all(0.0 <= a < b <= 1.0 for a, b in zip(*ends_of(parts), strict=True)):
        return None
    return parts


def ends_of(parts: Parts) -> tuple[Parts, Parts]:
    """Return the starts and the ends of parts along x, y and depth."""
    return parts[::2], parts[1::2]


def ends_cm(parts: Parts, measures: Measures) -> dict[str, float]:
    """Return the ends that parts of a box have, by their fields [cm]."""
    sides = (side for side in measures for _ in (0, 1))
    return {
        name: round(part * side, 1)
        for name, part, side in zip(FORM_ENDS, parts, sides, strict=True)
    }


def parts_of_ends(ends: Mapping[str, float], measures: Measures) -> Parts:
    """Return the parts of a box that ends take [cm], within it."""
    sides = [side for side in measures for _ in (0, 1)]
    return tuple(
        min(max(ends[name] / side, 0.0), 1.0) for name, side in zip(FORM_ENDS, sides, strict=True)
    )


def fitted(
    data: QueryDict, box: SceneTank | None, unit: str, *, stretch: bool = False
) -> QueryDict:
    """Return a question's fields with the zones that follow laid anew over a box.

    Rows moved by hand since they were drawn follow no more; `stretch` makes all of them follow.
    """
    was = read_measures(numbers_of(data.get(FITTED_TO), 3))
    if box is None or was is None:
        return data
    now = measures_of(box)
    made = data.copy()
    for number in range(row_count(data)):
        start = f"zone-{number}-"
        typed = typed_ends(data, start, unit)
        parts = followed_parts(data.get(f"{start}parts"), typed, was)
        drawn_for = "" if parts is not None else data.get(f"{start}drawn_for", "")
        if parts is None and typed is not None:
            measures = put_for(drawn_for, typed, was, was if stretch else now)
            drawn_for = drawn_for_text(typed, measures)
            if stretch:
                parts = read_parts(parts_text(parts_of_ends(typed, measures)))
                drawn_for = "" if parts is not None else drawn_for
        made[f"{start}parts"], made[f"{start}drawn_for"] = parts_text(parts), drawn_for
        if parts is not None and (was != now or stretch):
            for name, value in ends_cm(parts, now).items():
                made[start + name] = format_length(value, unit)
    made[FITTED_TO] = numbers_text(now)
    return made


def drawn_for_text(ends: Mapping[str, float], measures: Measures) -> str:
    """Return the text of ends put by hand [cm] and of the measures they were put for."""
    return numbers_text([*(ends[name] for name in FORM_ENDS), *measures])


def put_for(text: object, typed: Mapping[str, float], was: Measures, now: Measures) -> Measures:
    """Return the measures [cm] for which a hand put the ends of a row.

    `text` says where it stood when it was last looked at, and for which. Ends that moved since
    were put for the measures of now, unless they reach out of them.
    """
    before = numbers_of(text, len(FORM_ENDS) + 3)
    measures = read_measures(before and before[len(FORM_ENDS) :])
    if before is not None and measures is not None:
        ends = zip(FORM_ENDS, before[: len(FORM_ENDS)], strict=True)
        if all(abs(typed[name] - end) <= SHOWN_CM for name, end in ends):
            return measures
    sides = [side for side in now for _ in (0, 1)]
    fits = all(typed[name] <= side + SHOWN_CM for name, side in zip(FORM_ENDS, sides, strict=True))
    return now if fits else was


def row_count(data: QueryDict) -> int:
    """Return how many rows of zones were sent, a few hundred at most."""
    return min(whole_number(data.get("zone-TOTAL_FORMS", "")) or 0, 100)


def typed_ends(data: QueryDict, start: str, unit: str) -> dict[str, float] | None:
    """Return the ends typed in a row [cm], None unless all of them can be read."""
    try:
        return {name: parse_length_cm(data.get(start + name, ""), unit) for name in FORM_ENDS}
    except UnreadableNumber:
        return None


def followed_parts(text: object, typed: dict[str, float] | None, was: Measures) -> Parts | None:
    """Return the parts of a row that still lies as it was drawn, None of one that was moved."""
    parts = read_parts(text)
    if parts is None or typed is None:
        return None
    drawn = ends_cm(parts, was)
    moved = any(abs(typed[name] - drawn[name]) > SHOWN_CM for name in FORM_ENDS)
    return None if moved else parts
