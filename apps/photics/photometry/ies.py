"""Reads ANSI/IES LM-63 photometric text, editions 1986 to 2019.

Layout as the public format pages give it (for example I. Ashdown, "Parsing the IESNA LM-63
Photometric Data File", 1998): label or keyword lines, TILT=, thirteen numbers, angles,
intensities. The standard's own text was not at hand.
"""

from dataclasses import replace

import numpy as np

from apps.photics import limits
from apps.photics.ground.arrays import FloatArray
from apps.photics.photometry.distribution import Opening, Photometry, Tilt
from apps.photics.photometry.text import (
    LIGHT_MAX,
    OPENING_MAX_CM,
    Numbers,
    PhotometryError,
    check_count,
    checked,
    lines_of,
    shown,
)

# First line of an edition, and its year. No such line: 1986. By the format pages named above.
EDITIONS = {
    "IESNA86": 1986,
    "IESNA:LM-63-1986": 1986,
    "IESNA91": 1991,
    "IESNA:LM-63-1991": 1991,
    "IESNA:LM-63-1995": 1995,
    "IESNA:LM-63-2002": 2002,
    "IES:LM-63-2019": 2019,
    "IESNA:LM-63-2019": 2019,
}
# Numbers of the types of photometry and of the units of length, feet and metres; the same pages.
KINDS = {1: "C", 2: "B", 3: "A"}
CM_PER_UNIT = {1: 30.48, 2: 100.0}
# Chosen well above any lamp's table, so that a slipped count is refused.
TILT_PAIRS_MAX = 1000
# A photometer's noise around darkness: up to so much of the brightest, an intensity below zero is
# taken as 0 where those beside it are no brighter than so much [1]. Our own choice.
NOISE_MAX, DARK_MAX = 0.01, 0.05


def read_ies(text: str, *, tilt_text: str | None = None) -> Photometry:
    """Return the Photometry of an LM-63 file's text.

    `tilt_text`: the text of the file that a TILT=<name> line points to. Raises PhotometryError.
    """
    lines = lines_of(text)
    tilt_at = tilt_line(lines)
    year, start, notes = read_edition(lines, tilt_at)
    keywords = read_keywords(lines, start, tilt_at, year=year)

    def read(*, decimal_comma: bool) -> Photometry:
        numbers = Numbers(lines[tilt_at + 1 :], tilt_at + 2, decimal_comma=decimal_comma)
        tilt = read_tilt(lines[tilt_at], tilt_at + 1, numbers, tilt_text)
        return read_body(numbers, year, keywords=keywords, tilt=tilt)

    if has_decimal_commas(lines[tilt_at + 1 :]):
        try:
            photometry = read(decimal_comma=True)
        except PhotometryError:
            photometry = read(decimal_comma=False)
        else:
            notes += ("Its commas are read as decimal points.",)
    else:
        photometry = read(decimal_comma=False)
    return replace(photometry, notes=(*notes, *photometry.notes))


def has_decimal_commas(lines: list[str]) -> bool:
    """Return whether numbers could have commas for decimal points: one each, and no point.

    The format lets a comma part two numbers too; then the count of them does not come out.
    """
    text = " ".join(lines)
    commas = [word for word in text.split() if "," in word]
    return bool(commas) and "." not in text and all(map(is_decimal_comma, commas))


def is_decimal_comma(word: str) -> bool:
    """Return whether a word is digits with one comma between them, such as "22,5"."""
    whole, _, rest = word.partition(",")
    return whole.lstrip("+-").isdigit() and rest[:1].isdigit() and "," not in rest


def read_edition(lines: list[str], tilt_at: int) -> tuple[int, int, tuple[str, ...]]:
    """Return the year of the edition, the index of the first keyword line, and notes.

    `tilt_at`: the index of the TILT= line, before which an edition stands.
    """
    for index, line in enumerate(lines[:tilt_at]):
        label = "".join(line.split()).upper()
        if label in EDITIONS:
            return EDITIONS[label], index + 1, ()
        if label.startswith("IES"):
            return 2002, index + 1, (f"The edition {shown(line)} is new here; read as of 2002.",)
        if label:
            break
    return 1986, 0, ()


def tilt_line(lines: list[str]) -> int:
    """Return the index of the TILT= line. Raises PhotometryError where there is none."""
    for index, line in enumerate(lines):
        if "".join(line[:40].split()).upper().startswith("TILT="):
            return index
    raise PhotometryError("the file ends before a TILT= line.", len(lines))


def read_keywords(
    lines: list[str], start: int, end: int, *, year: int
) -> tuple[tuple[str, str], ...]:
    """Return (name, text) pairs from line `start` to before `end`.

    Bare label lines of the 1986 edition become OTHER; `year` is the edition's.
    """
    keywords: list[tuple[str, str]] = []
    for index in range(start, end):
        line = lines[index].strip()
        if not line:
            continue
        if not line.startswith("["):
            keywords.append(("OTHER", line))
            continue
        name, bracket, text = line[1:].partition("]")
        name = name.strip().upper()
        if not bracket and year > 1986:
            raise PhotometryError("a keyword needs its closing bracket.", index + 1)
        if not bracket:
            keywords.append(("OTHER", line))
        elif name != "MORE":
            keywords.append((name, text.strip()))
        elif not keywords:
            raise PhotometryError("[MORE] has no line before it to go on with.", index + 1)
        else:
            keywords[-1] = (keywords[-1][0], f"{keywords[-1][1]}\n{text.strip()}")
    return tuple(keywords)


def read_tilt(text: str, line: int, numbers: Numbers, tilt_text: str | None) -> Tilt | None:
    """Return the Tilt that a TILT= line announces, or None; `tilt_text` is its file's."""
    where = text.partition("=")[2].strip()
    if where.upper() == "NONE":
        return None
    if where.upper() == "INCLUDE":
        return tilt_table(numbers)
    if not where:
        raise PhotometryError("TILT= says neither NONE, INCLUDE nor a file.", line)
    if tilt_text is None:
        raise PhotometryError(
            f"the tilt factors stand in another file, {shown(where)}; bring that one too.", line
        )
    try:
        return tilt_table(Numbers(lines_of(tilt_text), 1))
    except PhotometryError as error:
        raise PhotometryError(f"in the tilt file {shown(where)}: {error}", line) from None


def tilt_table(numbers: Numbers) -> Tilt:
    """Return the Tilt that follows in `numbers`."""
    geometry = numbers.whole("the lamp's position in the tilt table", least=1, most=3)
    count = numbers.whole("the number of tilt angles", least=1, most=TILT_PAIRS_MAX)
    angles = numbers.angles(count, "tilt angles", least=-180, most=180)
    factors = numbers.many(count, "tilt factors", least=0, most=100)
    return Tilt(geometry, tuple(angles.tolist()), tuple(factors.tolist()))


def read_body(
    numbers: Numbers, year: int, *, keywords: tuple[tuple[str, str], ...], tilt: Tilt | None
) -> Photometry:
    """Return the Photometry from the numbers after the tilt data.

    `year` of the edition, `keywords` and `tilt` as read before them.
    """
    lamps = numbers.whole("the number of lamps", least=1, most=1000)
    lumens = numbers.one("lumens per lamp", least=-1)
    multiplier = numbers.one("the candela multiplier", least=1e-9)
    angles_max = limits.PHOTOMETRY_ANGLES_MAX
    nv = numbers.whole("the number of vertical angles", least=2, most=angles_max)
    nh = numbers.whole("the number of horizontal angles", least=1, most=angles_max)
    check_count(nh, nv, line=numbers.line)
    kind = KINDS[numbers.whole("the photometric type", least=1, most=3)]
    opening = read_opening(numbers)
    factor = multiplier * numbers.one("the ballast factor", least=1e-9)
    # A photometric factor until 1991; "future use" from 1995, how the file was made from 2019.
    other = numbers.one("the factor after the ballast factor")
    if year <= 1991:
        factor *= other
    watts = numbers.one("the input watts", least=0)
    vertical = read_vertical(numbers, kind, nv)
    listed = read_horizontal(numbers, kind, nh)
    candela, notes = read_candela(numbers, nh, nv, factor=factor)
    last_line = numbers.line
    horizontal, candela, unfolding = whole_planes(kind, listed, candela)
    notes += unfolding
    if left := numbers.left():
        notes += (f"{left} entries after the last intensity were not read.",)
    photometry = Photometry(
        kind=kind,
        vertical_deg=vertical,
        horizontal_deg=horizontal,
        candela=candela,
        opening=opening,
        lamp_lumens=None if lumens <= 0 else lamps * lumens,
        watts=watts,
        keywords=keywords,
        source=f"LM-63-{year}",
        tilt=tilt,
        notes=notes,
    )
    return checked(photometry, last_line)


def read_candela(
    numbers: Numbers, nh: int, nv: int, *, factor: float
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the intensities of `nh` planes of `nv` angles times a `factor` [1], and notes.

    The intensities are (nh, nv) [cd]. One just below zero in the dark, a photometer's noise,
    counts as 0; within the light it would be a hole.
    """
    below: list[tuple[int, float]] = []
    candela = numbers.many(nh * nv, "intensities", least=0, below=below)
    most = candela.max()
    for (line, value), at in zip(below, np.flatnonzero(candela < 0), strict=True):
        start = at // nv * nv
        beside = candela[max(at - 1, start) : min(at + 2, start + nv)].max()
        if -value > NOISE_MAX * most or beside > DARK_MAX * most:
            raise PhotometryError(f"{value:g} for intensities is not from 0 to 1e+09.", line)
    candela = np.maximum(candela, 0.0) * factor
    if not candela.max() <= LIGHT_MAX or factor < 0:
        raise PhotometryError("the factors of the file make no possible intensity.", numbers.line)
    notes: tuple[str, ...] = ()
    if below:
        line, value = below[0]
        more = f", and {len(below) - 1} more" if len(below) > 1 else ""
        notes = (f"Line {line}: {value:g} cd is below zero and taken as 0{more}.",)
    return candela.reshape(nh, nv), notes


def read_opening(numbers: Numbers) -> Opening:
    """Return the Opening [cm]; below zero a size is a round shape's, as the editions since 1991."""
    unit = numbers.whole("the unit of lengths", least=1, most=2)
    sizes = numbers.many(3, "the luminous opening") * CM_PER_UNIT[unit]
    if np.abs(sizes).max() > OPENING_MAX_CM:
        raise PhotometryError(
            f"a luminous opening of {np.abs(sizes).max():g} cm is not a fixture's.", numbers.line
        )
    across, along, height = np.abs(sizes).tolist()
    if across == along == height == 0:
        return Opening(0.0, 0.0, 0.0, "point")
    if sizes.min() >= 0:
        return Opening(along, across, height, "rectangle")
    # One diameter alone: the other extent is the same, save for a lying cylinder.
    if sizes[2] >= 0 or max(across, along) == 0 or sizes[:2].min() < 0:
        along, across = along or across or height, across or along or height
    else:
        along, across = along or height, across or height
    return Opening(along, across, height, "round")


def read_vertical(numbers: Numbers, kind: str, count: int) -> FloatArray:
    """Return the `count` vertical angles of photometry of `kind`, (count,) [degrees]."""
    if kind == "C":
        return numbers.angles(count, "vertical angles", least=0, most=180)
    vertical = numbers.angles(count, "vertical angles", least=-90, most=90)
    if vertical[0] > 0:
        raise PhotometryError("vertical angles begin at -90 or 0 in types A and B.", numbers.line)
    return vertical


def read_horizontal(numbers: Numbers, kind: str, count: int) -> FloatArray:
    """Return the horizontal angles that the file lists, (nh,) [degrees].

    `kind` of photometry, `count` how many the file lists.
    """
    if kind != "C":
        horizontal = numbers.angles(count, "horizontal angles", least=-90, most=90)
        if horizontal[0] > 0 or count < 2:
            raise PhotometryError(
                "horizontal angles run from -90 or 0 to 90 in types A and B.", numbers.line
            )
        return horizontal
    horizontal = numbers.angles(count, "horizontal angles", least=-90, most=360)
    ends = (horizontal[0], horizontal[-1])
    whole = ((0, 45), (0, 90), (0, 180), (0, 360), (90, 270), (-90, 90))
    if count == 1 or ends in whole or (ends[0] == 0 and ends[1] > 180):
        return horizontal
    raise PhotometryError(
        f"horizontal angles run from {ends[0]:g} to {ends[1]:g}; "
        "0 alone, 0-90, 0-180, 90-270 or 0-360 can be read, also 0-45 and -90 to 90.",
        numbers.line,
    )


def whole_planes(
    kind: str, listed: FloatArray, candela: FloatArray
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Return the planes as a Photometry of `kind` holds them, their intensities, and notes.

    `listed` are the file's planes (nh,) [degrees] with their `candela` (nh, nv) [cd].
    """
    if kind != "C" or len(listed) == 1:
        return listed, candela, ()
    first, last = listed[0], listed[-1]
    if last == 45:
        # Alike in each eighth: what lies beyond 45 degrees mirrors what lies before it.
        turns = np.append(listed, (90 - listed)[-2::-1])
        note = "The planes 0 to 45 degrees are mirrored to the whole circle."
        return turns, np.vstack([candela, candela[-2::-1]]), (note,)
    if first == -90:
        # As 90 to 270, mirrored about that plane: C270 over C0 to C90.
        note = "The planes -90 to 90 degrees are mirrored to the whole circle."
        return (180 - listed)[::-1], candela[::-1], (note,)
    if first == 0 and 180 < last < 360:
        note = f"The planes end at {last:g} degrees; the first one closes the circle."
        return np.append(listed, 360.0), np.vstack([candela, candela[:1]]), (note,)
    return listed, candela, ()
