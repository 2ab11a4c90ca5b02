"""What the readers of photometric files share: lines, numbers with bounds, one plain error."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from apps.photics import limits
from apps.photics.ground.arrays import FloatArray
from apps.photics.photometry.distribution import Photometry

# No lamp shines brighter than this in any direction, nor is larger; chosen, because beyond it a
# file has a slipped exponent [cd or lm, cm].
LIGHT_MAX = 1e9
OPENING_MAX_CM = 10_000.0


class PhotometryError(ValueError):
    """A file that cannot be read, in one sentence; `line` is its line number or None."""

    def __init__(self, problem: str, line: int | None = None) -> None:
        self.line = line
        super().__init__(f"Line {line}: {problem}" if line else problem)


def lines_of(text: str) -> list[str]:
    """Return the lines of a file's text. Raises PhotometryError for what is no text to read."""
    if len(text) > limits.PHOTOMETRY_CHARS_MAX:
        raise PhotometryError(
            f"The file is longer than {limits.PHOTOMETRY_CHARS_MAX:,} characters."
        )
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    # Old files may end with the end-of-file sign of DOS.
    text = text.rstrip("\x1a\x00 \n\t")
    if not text:
        raise PhotometryError("The file is empty.")
    return text.split("\n")


def number(word: str, line: int, what: str) -> float:
    """Return a word as a finite number. Raises PhotometryError naming `what` and `line`."""
    try:
        # Python also reads "1_000" and digits of other scripts; no photometer writes them.
        value = float(word) if word.isascii() and "_" not in word else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise PhotometryError(f"{shown(word)} is not a number for {what}.", line)
    return value


def shown(word: str) -> str:
    """Return a word from a file as it may stand in a sentence: short, and printable."""
    word = "".join(letter if letter.isprintable() else "?" for letter in word[:24])
    return f"“{word}”"


class Numbers:
    """Reads numbers one after another, whatever stands between them."""

    def __init__(
        self, lines: Sequence[str], first_line: int, *, decimal_comma: bool = False
    ) -> None:
        self.line = first_line - 1
        self.last_line = first_line - 1 + len(lines)
        apart = "." if decimal_comma else " "
        self.words = (
            (first_line + index, word)
            for index, text in enumerate(lines)
            for word in text.replace(",", apart).split()
        )

    def one(self, what: str, *, least: float = -LIGHT_MAX, most: float = LIGHT_MAX) -> float:
        """Return the next number, `least` to `most`, in the unit of the file; `what` names it."""
        return float(self.many(1, what, least=least, most=most)[0])

    def whole(self, what: str, *, least: int, most: int) -> int:
        """Return the next number, which must be whole, `least` to `most`; `what` names it."""
        value = self.one(what)
        if value != int(value) or not least <= value <= most:
            raise PhotometryError(
                f"{what} is {value:g}; a whole number from {least} to {most} belongs here.",
                self.line,
            )
        return int(value)

    def many(
        self,
        count: int,
        what: str,
        *,
        least: float = -LIGHT_MAX,
        most: float = LIGHT_MAX,
        below: list[tuple[int, float]] | None = None,
    ) -> FloatArray:
        """Return the next `count` numbers, each `least` to `most`, (count,), in the file's unit.

        `what` names them in an error. With a list, those `below` the least are put there with
        their line instead of being refused.
        """
        values = np.empty(count)
        for index in range(count):
            self.line, word = next(self.words, (self.last_line, None))
            if word is None:
                missing = f"{index} of {count} values for {what}" if count > 1 else what
                where = "after " if count > 1 else "before "
                raise PhotometryError(f"the file ends {where}{missing}.", self.line)
            values[index] = value = number(word, self.line, what)
            if below is not None and value < least:
                below.append((self.line, value))
                continue
            if not least <= value <= most:
                raise PhotometryError(
                    f"{value:g} for {what} is not from {least:g} to {most:g}.", self.line
                )
        return values

    def angles(self, count: int, what: str, *, least: float, most: float) -> FloatArray:
        """Return the next `count` angles, (count,), ascending, `least` to `most` [degrees]."""
        values = self.many(count, what, least=least, most=most)
        if np.any(np.diff(values) <= 0):
            at = int(np.argmax(np.diff(values) <= 0))
            raise PhotometryError(
                f"{what} must ascend; {values[at + 1]:g} comes after {values[at]:g}.", self.line
            )
        return values

    def left(self) -> int:
        """Return how many words follow."""
        return sum(1 for _ in self.words)


def check_count(planes: int, angles: int, *, line: int) -> None:
    """Refuse more intensities than a file may hold: `planes` times `angles`, on `line`."""
    if planes * angles > limits.PHOTOMETRY_VALUES_MAX:
        raise PhotometryError(
            f"{planes} x {angles} intensities are more than {limits.PHOTOMETRY_VALUES_MAX:,}.",
            line,
        )


def checked(photometry: Photometry, line: int) -> Photometry:
    """Return a Photometry, its flux noted when odd. No light raises PhotometryError at `line`."""
    if not 0 < photometry.flux_lm <= 4 * math.pi * LIGHT_MAX:
        raise PhotometryError("the intensities add up to no possible light.", line)
    if photometry.lamp_lumens and photometry.flux_lm > 1.05 * photometry.lamp_lumens:
        note = (
            f"The intensities add up to {photometry.flux_lm:,.0f} lm, "
            f"more than the {photometry.lamp_lumens:,.0f} lm of the lamps."
        )
        return replace(photometry, notes=(*photometry.notes, note))
    return photometry
