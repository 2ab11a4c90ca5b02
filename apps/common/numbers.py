"""Reading a number the way people type it, and saying plainly when it can't be read."""

import math
import re
from collections.abc import Collection

# Words a keeper or a spreadsheet leaves behind a PAR value. They say nothing new, so they may stay.
PAR_WORDS = ("par", "ppfd", "umol", "µmol", "μmol", "umol/m2/s", "µmol/m²/s", "μmol/m²/s")

_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")
# Thousands parted by a space or an apostrophe, which part nothing else in a number.
_PARTED = re.compile(
    r"^[+-]?[1-9]\d{0,2}(?:[ \u00a0\u2009\u202f'’]\d{3})+(?=$|[.,]\d|\s*[^\d.,'’\s])"
)
_ABOUT = ("<", ">", "~", "≈", "≤", "≥", "ca.", "about")
_THOUSANDS = re.compile(r"^[+-]?[1-9]\d{0,2},\d{3}$")


class UnreadableNumber(ValueError):
    """The text is not one number; the message says why, for the keeper."""


def parse_number(text: object, *, words: Collection[str] = ()) -> float:
    """Return the float a person meant by `text`.

    Accepts a decimal point or comma, spaces round it, and any of `words` behind it.
    Raises UnreadableNumber with a sentence for the keeper. "1,200" is refused, since
    it can mean 1.2 as well as 1200; "1 200" and "1'200" are 1200.
    """
    raw = str(text).strip().replace("\u00a0", " ").replace("−", "-")
    if not raw:
        raise UnreadableNumber("Write a number here.")
    if sign := next((sign for sign in _ABOUT if raw.lower().startswith(sign)), ""):
        raise UnreadableNumber(f"“{shorten(raw)}” is not an exact number. Leave out “{sign}”.")
    number, unit = _split_unit(with_joined_thousands(raw))
    if unit and unit.lower() not in words:
        raise UnreadableNumber(
            f"“{shorten(raw)}” is not a number alone. Leave out “{shorten(unit)}”."
        )
    if _THOUSANDS.match(number):
        dotted = number.replace(",", ".")
        raise UnreadableNumber(
            f"“{number}” can mean {number.replace(',', '')} or {float(dotted):g}. "
            "Write it with no comma, or with a point."
        )
    if not _NUMBER.match(number):
        raise UnreadableNumber(f"“{shorten(raw)}” is not a number.")
    value = float(number.replace(",", "."))
    if not math.isfinite(value):
        raise UnreadableNumber(f"“{shorten(raw)}” is too large.")
    return value


def whole_number(text: object, *, digits_max: int = 9) -> int | None:
    """Return the whole number, 0 or more, that a text writes in plain digits; None for any other.

    `digits_max`: what is longer is none. Python refuses thousands of digits by an error.
    """
    raw = str(text)
    is_one = raw.isascii() and raw.isdigit() and len(raw) <= digits_max
    return int(raw) if is_one else None


def with_joined_thousands(text: str) -> str:
    """Return a text whose number at the start has no spaces or apostrophes in it."""
    if not (parted := _PARTED.match(text)):
        return text
    return re.sub(r"[ \u00a0\u2009\u202f'’]", "", parted[0]) + text[parted.end() :]


def _split_unit(raw: str) -> tuple[str, str]:
    """Split "120 par" into ("120", "par"); a plain number has an empty unit."""
    match = re.match(r"^([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(.*)$", raw)
    return (match.group(1), match.group(2).strip()) if match else (raw, "")


def shorten(text: str, most: int = 24) -> str:
    """Cut a quoted text so that a message stays one line."""
    return text if len(text) <= most else text[: most - 1] + "…"
