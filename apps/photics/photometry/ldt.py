"""Reads EULUMDAT (.ldt) photometric text, symmetries 0 to 4.

Layout: A. Stockmar, "EULUMDAT - ein Leuchtendatenformat", Licht '90, as public format pages give
it line by line. Intensities are per 1,000 lm of the lamps.
"""

import numpy as np

from apps.photics import limits
from apps.photics.ground.arrays import FloatArray, IntArray
from apps.photics.photometry.distribution import Opening, Photometry
from apps.photics.photometry.text import (
    LIGHT_MAX,
    OPENING_MAX_CM,
    Numbers,
    PhotometryError,
    check_count,
    checked,
    lines_of,
    number,
    shown,
)

# Text lines chosen because they are worth keeping, by line number, under the keyword of the other
# format.
KEPT_LINES = {1: "MANUFAC", 8: "TEST", 9: "LUMINAIRE", 10: "LUMCAT", 12: "ISSUEDATE"}
# Lines of the format, by the pages named above (Stockmar 1990); how many lamp sets it allows.
LAMP_SETS_LINE = 26
LINES_A_SET = 6
SETS_MAX = 20
# By the same pages, the ten direct ratios of the room index stand before the angles; no use for
# them here.
DIRECT_RATIOS = 10


def read_ldt(text: str) -> Photometry:
    """Return the Photometry of a EULUMDAT file's text. Raises PhotometryError."""
    lines = lines_of(text)
    symmetry, planes, count = read_counts(lines)
    opening = read_opening(lines)
    lumens, watts, end, notes = read_lamps(lines)
    numbers = Numbers(lines[end:], end + 1, decimal_comma=True)
    numbers.many(DIRECT_RATIOS, "direct ratios")
    turns = numbers.angles(planes, "C planes", least=0, most=360)
    vertical = numbers.angles(count, "gamma angles", least=0, most=180)
    listed = listed_planes(symmetry, turns, numbers.line)
    values = numbers.many(len(listed) * count, "intensities", least=0).reshape(-1, count)
    # The factor of line 24 is 1 in nearly every file, and blank or 0 where it was left out.
    factor = (number_at(lines, 24, "the intensity factor", blank=1.0) or 1.0) * lumens / 1000
    candela = values * factor
    if factor < 0 or not candela.max() <= LIGHT_MAX:
        raise PhotometryError("the factors of the file make no possible intensity.", 24)
    horizontal, candela = unfolded(symmetry, turns[listed], candela)
    photometry = Photometry(
        kind="C",
        vertical_deg=vertical,
        horizontal_deg=horizontal,
        candela=candela,
        opening=opening,
        lamp_lumens=lumens,
        watts=watts,
        keywords=tuple(
            (name, word) for at, name in KEPT_LINES.items() if (word := lines[at - 1].strip())
        ),
        source="EULUMDAT",
        notes=notes,
    )
    return checked(photometry, numbers.line)


def read_counts(lines: list[str]) -> tuple[int, int, int]:
    """Return the symmetry, 0 to 4, the number of C planes and of intensities a plane."""
    if len(lines) < LAMP_SETS_LINE:
        raise PhotometryError(
            f"the file ends before line {LAMP_SETS_LINE}, the number of lamp sets.", len(lines)
        )
    symmetry = whole_at(lines, 3, "the symmetry", least=0, most=4)
    most = limits.PHOTOMETRY_ANGLES_MAX
    planes = whole_at(lines, 4, "the number of C planes", least=1, most=most)
    count = whole_at(lines, 6, "the number of intensities a plane", least=2, most=most)
    check_count(planes, count, line=6)
    return symmetry, planes, count


def number_at(lines: list[str], at: int, what: str, *, blank: float | None = None) -> float:
    """Return the number on line `at` or, where it is empty, `blank`, in the unit of that line.

    `what` names it in an error.
    """
    word = lines[at - 1].strip().replace(",", ".") if at <= len(lines) else ""
    if not word and blank is not None:
        return blank
    if not word:
        raise PhotometryError(f"{what} is missing.", min(at, len(lines)))
    return number(word.split()[0], at, what)


def whole_at(lines: list[str], at: int, what: str, *, least: int, most: int) -> int:
    """Return the whole number on line `at`, `least` to `most`; `what` names it in an error."""
    value = number_at(lines, at, what)
    if value != int(value) or not least <= value <= most:
        raise PhotometryError(
            f"{shown(lines[at - 1].strip())} for {what}; "
            f"a whole number from {least} to {most} belongs here.",
            at,
        )
    return int(value)


def read_opening(lines: list[str]) -> Opening:
    """Return the Opening [cm]: length lies across the C0 plane, width 0 is a round one's."""
    length, width = (number_at(lines, at, "the luminous area", blank=0.0) / 10 for at in (16, 17))
    heights = [number_at(lines, at, "the luminous height", blank=0.0) / 10 for at in range(18, 22)]
    height = max(heights)
    for at, size in ((16, length), (17, width), (18, height), (18, min(heights))):
        if not 0 <= size <= OPENING_MAX_CM:
            raise PhotometryError(f"a luminous opening of {size:g} cm is not a fixture's.", at)
    if length == 0 and width == 0:
        return Opening(0.0, 0.0, 0.0, "point")
    if width == 0:
        return Opening(length, length, height, "round")
    return Opening(width, length, height, "rectangle")


def read_lamps(lines: list[str]) -> tuple[float, float, int, tuple[str, ...]]:
    """Return lumens [lm] and watts [W] of the first lamp set, the index after all, and notes.

    Layout: Stockmar 1990.
    """
    sets = whole_at(lines, LAMP_SETS_LINE, "the number of lamp sets", least=1, most=SETS_MAX)
    end = LAMP_SETS_LINE + sets * LINES_A_SET
    if len(lines) < end:
        raise PhotometryError(f"the file ends within its {sets} lamp sets.", len(lines))
    first = LAMP_SETS_LINE + 1
    lumens = number_at(lines, first + 2, "the lamps' lumens", blank=0.0)
    watts = number_at(lines, first + 5, "the input watts", blank=0.0)
    for at, value in ((first + 2, lumens), (first + 5, watts)):
        if not 0 <= value <= LIGHT_MAX:
            raise PhotometryError(f"{value:g} lm or W is not a lamp's.", at)
    notes: tuple[str, ...] = ()
    if sets > 1:
        notes += (f"The file tells {sets} lamp sets; the first is taken.",)
    if lumens == 0:
        lumens = 1000.0
        notes += ("No lumens are told; 1,000 lm are assumed, so only the shape counts.",)
    return lumens, watts, end, notes


def listed_planes(symmetry: int, turns: FloatArray, line: int) -> IntArray:
    """Return the indices of the planes whose intensities are listed.

    `symmetry` 0 to 4 of the planes at `turns` (n,) [degrees]; `line` for an error.
    """
    count = len(turns)
    quarter, half = count // 4, count // 2
    listed = {
        0: np.arange(count),
        1: np.arange(1),
        2: np.arange(half + 1),
        3: np.arange(3 * quarter, 3 * quarter + half + 1) % count,
        4: np.arange(quarter + 1),
    }[symmetry]
    whole = {0: 1, 1: 1, 2: 2, 3: 4, 4: 4}[symmetry]
    ends = {0: (0, None), 1: (None, None), 2: (0, 180), 3: (270, 90), 4: (0, 90)}[symmetry]
    first_and_last = turns[listed[0]], turns[listed[-1]]
    right = all(end in (None, at) for end, at in zip(ends, first_and_last, strict=True))
    if count % whole or not right:
        raise PhotometryError(f"the {count} C planes do not fit symmetry {symmetry}.", line)
    return listed


def unfolded(
    symmetry: int, turns: FloatArray, candela: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return horizontal angles (nh,) [degrees] and intensities (nh, nv) [cd] of a Photometry.

    `turns` (listed,) [degrees] and `candela` (listed, nv) [cd] are those listed, by their symmetry
    0 to 4.
    """
    if symmetry == 1 or len(turns) == 1:
        return np.zeros(1), candela[:1]
    if symmetry == 3:
        # Listed from C270 over C0 to C90; mirrored about that plane it is 270 down to 90.
        return np.mod(180 - turns, 360)[::-1], candela[::-1]
    if symmetry == 0 and turns[-1] < 360:
        return np.append(turns, 360.0), np.vstack([candela, candela[:1]])
    return turns, candela
