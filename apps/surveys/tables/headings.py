"""Which column of a table is which by its heading: an exact heading wins over a loose one."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.common.tables.reading import heading_words
from apps.photics.ground.lengths import UNIT_WORDS
from apps.surveys.tables.typed_rows import LENGTHS

# The names of each column, and other words that a heading may use for it.
NAMES = {
    "x": {"x"},
    "y": {"y"},
    "depth": {"depth"},
    "par": {"par", "ppfd"},
    "spread": {"spread", "sd", "stdev", "deviation"},
}
OTHER_WORDS = {
    "x": {"left", "length"},
    "y": {"front", "width"},
    "depth": {"z", "deep", "below"},
    "par": {"reading", "value"},
    "spread": set(),
}
# Words that say a unit and nothing about what is measured.
UNITS = {*UNIT_WORDS, "umol", "µmol", "μmol", "m²", "s", "sec", "photons"}
# A depth of these is the tank's, not that of a reading.
WHOLE_DEPTHS = {"water", "tank", "total"}
# How well a heading fits, best first.
EXACT, OTHER, LOOSE, LOOSE_OTHER = range(4)
NUMBERING_LINES = 3  # so many lines that count up by one are a numbering


@dataclass(frozen=True)
class Headings:
    """Where each column stands, the unit its heading names, and what could be more than one."""

    places: dict[str, int]
    units: dict[str, str]
    contested: dict[str, list[int]]  # {column: each index that could be it}


def read_headings(cells: list[str]) -> Headings:
    """Return what a line of headings says; a contested column has no place."""
    fits: dict[str, list[tuple[int, int]]] = {}
    for at, cell in enumerate(cells):
        words = heading_words(cell)
        name, rank = _best_fit(words)
        if name:
            fits.setdefault(name, []).append((rank, at))
    places: dict[str, int] = {}
    units: dict[str, str] = {}
    contested: dict[str, list[int]] = {}
    for name, result in fits.items():
        best = [at for rank, at in result if rank == min(result)[0]]
        if len(best) > 1:
            contested[name] = best
            continue
        places[name] = best[0]
        if name in LENGTHS and (named := unit_word(cells[best[0]])):
            units[name] = named
    return Headings(places, units, contested)


def unit_word(cell: str) -> str:
    """Return the unit of length that a heading names last, "" without one."""
    return next((word for word in reversed(heading_words(cell)) if word in UNIT_WORDS), "")


def is_numbering(cells: list[str]) -> bool:
    """Whether a column's cells count the lines: 1, 2, 3 and so on."""
    if len(cells) < NUMBERING_LINES or not all(c.isascii() and c.isdigit() for c in cells):
        return False
    numbers = [int(cell) for cell in cells]
    return numbers == list(range(numbers[0], numbers[0] + len(numbers))) and numbers[0] in (0, 1)


def is_plain_name(cell: str, name: str) -> bool:
    """Whether a heading is a name of the column itself, such as PAR, and nothing else."""
    return _best_fit(heading_words(cell)) == (name, EXACT)


def _best_fit(words: Sequence[str]) -> tuple[str, int]:
    """Return (column, how well the words fit it), the spread's and then the first word's first."""
    telling = [word for word in words if word not in UNITS]
    fits = []
    for name, names in NAMES.items():
        known = names | OTHER_WORDS[name]
        at = [i for i, word in enumerate(telling) if word in known]
        if not at or (name == "depth" and WHOLE_DEPTHS & set(telling)):
            continue
        is_named, is_whole = bool(names & set(telling)), len(at) == len(telling)
        rank = (EXACT if is_named else OTHER) + (0 if is_whole else LOOSE)
        fits.append((name != "spread", rank, at[0], name))
    if not fits:
        return "", LOOSE_OTHER
    _, rank, _, name = min(fits)
    return name, rank
