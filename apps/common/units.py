"""Lengths: stored in cm, shown and typed in the keeper's unit."""

import math
import re
import unicodedata
from collections.abc import Collection
from fractions import Fraction

from django import forms
from django.core.exceptions import ValidationError

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.photics.ground.lengths import CM, CM_PER_INCH, INCH, UNIT_WORDS, from_cm, to_cm

UNIT_CHOICES = [(CM, "centimetres"), (INCH, "inches")]

# Between a number and its unit: a line never ends there.
GAP = "\N{NO-BREAK SPACE}"
# After the dash of a range: a line never ends there either.
JOINER = "\N{WORD JOINER}"
# Half an interval from which on its figure says no more than this [% of the value]. Our choice.
UNSURE_FROM_PERCENT = 100.0
UNSURE_WORDS = f"over ±{GAP}100{GAP}%"

# Inches typed are stored to a hundredth of a cm: so far may a typed fraction be off [cm].
TYPED_CM = 0.005 + 1e-6
# Parts of an inch on a tape, the plainest first.
TAPE_PARTS = (8, 16, 32)
# A tape in inches is read in halves to thirty-seconds: "18 1/2", "18-1/2", "18½", "3/4".
_FRACTION = re.compile(r"^(?:(\d+)[ -]+)?(\d+)/(\d+)$")


def parse_length_cm(text: object, unit: str) -> float:
    """Return the length [cm] a person meant; a unit written behind the number wins over `unit`.

    A length in cm stays as typed; another unit is rounded to 0.01 cm, so that inches
    typed again and again stay the same. Fractions are read as on a tape, such as
    "18 1/2" or "18½". Raises UnreadableNumber.
    """
    raw = str(text).strip()
    bare = raw.rstrip('abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"″ ')
    word = raw[len(bare) :].strip().lower()
    if word in UNIT_WORDS and bare:
        raw, unit = bare, word
    value = _read_fraction(raw)
    if value is None:
        value = parse_number(raw)
    length_cm = value if unit == CM else round(to_cm(value, unit), 2)
    if not math.isfinite(length_cm):
        raise UnreadableNumber(f"“{shorten(str(text).strip())}” is too large.")
    return length_cm


def _read_fraction(raw: str) -> float | None:
    """Return what a fraction means, or None where `raw` is none (a tape has no x/0)."""
    # NFKC spells "½" as "1⁄2", so a space keeps it off the number before it.
    spaced = re.sub(r"(\d) *(?=[¼-¾⅐-⅞])", r"\1 ", raw)
    spelt = unicodedata.normalize("NFKC", spaced).replace("⁄", "/")
    match = _FRACTION.match(spelt)
    if match is None or int(match[3]) == 0:
        return None
    return int(match[1] or 0) + int(match[2]) / int(match[3])


def format_length(value_cm: float | None, unit: str, *, places: int | None = None) -> str:
    """Return a length as short text in `unit`, without its name: 12.5, 20, 11 3/4.

    Inches are written as on a tape (`tape_text`), unless `places` asks for decimals; else one.
    """
    if value_cm is None:
        return ""
    if unit == INCH and places is None and value_cm >= 0:
        return tape_text(value_cm)
    text = f"{from_cm(value_cm, unit):.{1 if places is None else places}f}"
    text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def hours_words(hours: float) -> str:
    """Return hours [h] as a keeper says them, on one line: "9 h", "7.5 h"."""
    return f"{round(hours, 1):g}{GAP}h"


def is_unsure(half_percent: float) -> bool:
    """Tell whether half an interval [% of the value] is too wide to be a figure.

    At UNSURE_FROM_PERCENT the value may as well be none, or more than double.
    """
    return half_percent >= UNSURE_FROM_PERCENT


def plus_minus(half_percent: float, form: str = ".0f") -> str:
    """Return half an interval [% of the value], "± 18 %"; of an absurd one, that it is one."""
    if is_unsure(half_percent):
        return UNSURE_WORDS
    return f"±{GAP}{percent_words(half_percent, form)}"


def percent_words(percent: float, form: str = ".0f") -> str:
    """Return a percentage [%] as it stands on one line: "44 %"; `form` as of a format string."""
    return f"{percent:{form}}{GAP}%"


def exact_length(value_cm: float | None, unit: str) -> str:
    """Return a text that `parse_length_cm` reads back as this very length [cm].

    The short text in `unit` where that does, else centimetres to the last digit.
    """
    if value_cm is None:
        return ""
    short = format_length(value_cm, unit)
    if parse_length_cm(short, unit) == value_cm:
        return short
    whole = repr(float(value_cm))
    return whole if unit == CM else f"{whole} {CM}"


def tape_text(value_cm: float) -> str:
    """Return a length [cm] in inches: the fraction it was typed as, else the nearest eighth.

    Where a tenth is nearer than an eighth, it is written in tenths, as it may have been typed.
    """
    typed = typed_fraction(value_cm)
    if typed is not None:
        return typed
    inches = value_cm / CM_PER_INCH
    tenth, eighth = round(inches, 1), round(inches * 8) / 8
    if abs(tenth - inches) < abs(eighth - inches):
        return f"{tenth:g}" if tenth < 1e5 else f"{tenth:.1f}"
    return _fraction_text(round(inches * 8), 8)


def typed_fraction(value_cm: float) -> str | None:
    """Return the fraction of inches that is stored as a length [cm], None where none is."""
    inches = value_cm / CM_PER_INCH
    for parts in TAPE_PARTS:
        if abs(round(inches * parts) / parts - inches) * CM_PER_INCH <= TYPED_CM:
            return _fraction_text(round(inches * parts), parts)
    return None


def _fraction_text(count: int, parts: int) -> str:
    """Return `count` parts of an inch as a tape is read: 47 quarters are 11 3/4."""
    whole, rest = divmod(count, parts)
    if not rest:
        return str(whole)
    share = Fraction(rest, parts)
    return f"{whole} {share}" if whole else str(share)


class LengthField(forms.Field):
    """A length typed in the keeper's unit; cleans to cm and checks bounds given in cm."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def __init__(
        self,
        *,
        unit: str = CM,
        low_cm: float | None = None,
        high_cm: float | None = None,
        **kwargs: object,
    ) -> None:
        self.unit, self.low_cm, self.high_cm = unit, low_cm, high_cm
        super().__init__(**kwargs)

    def prepare_value(self, value: object) -> object:
        # What the keeper typed comes back as typed; a stored number is shown in their unit.
        return format_length(value, self.unit) if isinstance(value, int | float) else value

    def to_python(self, value: object) -> float | None:
        if value in (None, ""):
            return None
        try:
            return parse_length_cm(value, self.unit)
        except UnreadableNumber as problem:
            raise ValidationError(str(problem)) from None

    def validate(self, value: float | None) -> None:
        super().validate(value)
        if value is None:
            return
        low_off = self.low_cm is not None and value < self.low_cm - 1e-9
        high_off = self.high_cm is not None and value > self.high_cm + 1e-9
        if low_off or high_off:
            raise ValidationError(
                f"Between {format_length(self.low_cm or 0, self.unit)} and "
                f"{format_length(self.high_cm, self.unit)} {self.unit}, please."
            )

    def has_changed(self, initial: object, data: object) -> bool:
        try:
            return super().has_changed(initial, self.to_python(data))
        except ValidationError:
            return True


class NumberField(forms.Field):
    """A plain number that may carry a decimal comma and any of `words` behind it."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def __init__(
        self,
        *,
        words: Collection[str] = (),
        low: float | None = None,
        high: float | None = None,
        **kwargs: object,
    ) -> None:
        self.words, self.low, self.high = words, low, high
        super().__init__(**kwargs)

    def prepare_value(self, value: object) -> object:
        return f"{value:g}" if isinstance(value, int | float) else value

    def to_python(self, value: object) -> float | None:
        if value in (None, ""):
            return None
        try:
            return parse_number(value, words=self.words)
        except UnreadableNumber as problem:
            raise ValidationError(str(problem)) from None

    def validate(self, value: float | None) -> None:
        super().validate(value)
        if value is None:
            return
        if (self.low is not None and value < self.low) or (
            self.high is not None and value > self.high
        ):
            raise ValidationError(f"Between {self.low:g} and {self.high:g}, please.")
