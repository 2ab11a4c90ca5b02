"""Writes a fixture's photometry as ANSI/IES LM-63-2002 text."""

from collections.abc import Iterable, Sequence

from apps.photics.photometry.distribution import Photometry, Tilt

# Numbers of the types of photometry, as the edition of 2002 has them.
TYPES = {"C": 1, "B": 2, "A": 3}
# The edition asks for these four; "none" says that nobody stated it.
REQUIRED = ("TEST", "TESTLAB", "ISSUEDATE", "MANUFAC")
# Longest line the edition of 2002 allows.
LINE_MAX = 256
# Chosen, because it fits every screen and printer.
WRAP_AT = 78
# Longest name of a keyword the edition of 2002 allows.
NAME_MAX = 18


def write_ies(photometry: Photometry) -> str:
    """Return LM-63-2002 text of a Photometry, every number as exact as it is held.

    Intensities are written whole, with the multiplier and the ballast factor at 1.
    """
    opening = photometry.opening
    across, along, height = (
        size / 100 for size in (opening.across_cm, opening.along_cm, opening.height_cm)
    )
    if opening.shape == "round":
        # Two minus signs: a circle, or an ellipse where the extents differ.
        across, along = -across, -along
    lumens = -1 if photometry.lamp_lumens is None else photometry.lamp_lumens
    counts = [len(photometry.vertical_deg), len(photometry.horizontal_deg)]
    head: list[float] = [1, lumens, 1, *counts, TYPES[photometry.kind], 2, across, along, height]
    lines = ["IESNA:LM-63-2002", *keyword_lines(photometry.keywords)]
    lines += tilt_lines(photometry.tilt)
    lines += wrapped(head) + wrapped([1, 1, photometry.watts])
    lines += wrapped(photometry.vertical_deg.tolist()) + wrapped(photometry.horizontal_deg.tolist())
    for plane in photometry.candela.tolist():
        lines += wrapped(plane)
    return "\n".join(lines) + "\n"


def keyword_lines(keywords: Sequence[tuple[str, str]]) -> list[str]:
    """Return the lines of `keywords`, the required ones first and never left out."""
    stated = {name for name, _ in keywords}
    pairs = [(name, "none") for name in REQUIRED if name not in stated]
    lines = []
    for name, text in [*pairs, *keywords]:
        name = plain(name).replace("[", "").replace("]", "").strip()[:NAME_MAX] or "OTHER"
        for index, part in enumerate(text.split("\n")):
            label = "MORE" if index else name
            lines.append(f"[{label}] {plain(part)}"[:LINE_MAX].rstrip())
    return lines


def plain(text: str) -> str:
    """Return text as the format allows it: printable ASCII, the rest as question marks."""
    return "".join(sign if " " <= sign <= "~" else "?" for sign in text)


def tilt_lines(tilt: Tilt | None) -> list[str]:
    """Return the TILT= line and the table of `tilt`."""
    if tilt is None:
        return ["TILT=NONE"]
    table = [str(tilt.geometry), str(len(tilt.angles_deg))]
    return ["TILT=INCLUDE", *table, *wrapped(tilt.angles_deg), *wrapped(tilt.factors)]


def wrapped(values: Iterable[float]) -> list[str]:
    """Return `values`, in any unit, on lines of readable length."""
    lines, line = [], ""
    for value in values:
        word = str(value) if isinstance(value, int) else short(value)
        if line and len(line) + 1 + len(word) > WRAP_AT:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return [*lines, line]


def short(value: float) -> str:
    """Return the shortest text that reads back as the same `value`, in any unit.

    >>> short(10.0), short(0.1)
    ('10', '0.1')
    """
    return str(int(value)) if value == int(value) else repr(float(value))
