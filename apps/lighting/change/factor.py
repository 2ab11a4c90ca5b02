"""The factor of a light change as people say it: read from "0.8" or "-20 %", put in words."""

import re
from typing import Any

from django.core.exceptions import ValidationError

from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.common.units import NumberField
from apps.photics import limits

# What a keeper says rather than a number, within half a percent.
SPOKEN = {
    1 / 2: "half",
    2 / 3: "a third less",
    3 / 4: "a quarter less",
    4 / 5: "a fifth less",
    9 / 10: "a tenth less",
    1.0: "unchanged",
    1.1: "a tenth more",
    1.2: "a fifth more",
    1.25: "a quarter more",
    4 / 3: "a third more",
    1.5: "half as much again",
    2.0: "twice as much",
    3.0: "three times as much",
}
SPOKEN_WITHIN = 0.005

_PERCENT = re.compile(
    r"^(?P<sign>[+-]?)(?P<number>[\d.,]+)\s*(?:%|percent|per cent)"
    r"\s*(?P<word>less|more|of before)?$"
)
_FACTOR = re.compile(r"^(?:x|×|times)?\s*(?P<number>\d[\d.,]*|[.,]\d+)\s*(?:x|×|times)?$")


def parse_factor(text: object) -> float:
    """Return the factor a person meant [1]; raises UnreadableNumber with a sentence.

    "0.8" and "80 %" are what is left; "-20 %" and "20 % less" are what was taken away.
    """
    raw = str(text).strip().lower().replace("\u00a0", " ").replace("−", "-").replace("–", "-")
    if match := _PERCENT.match(raw):
        share = parse_number(match["number"]) / 100.0
        word, sign = match["word"], match["sign"]
        if sign and word in ("less", "more"):
            raise UnreadableNumber("Say it with a sign or with a word, not both: -20 %, 20 % less.")
        if sign == "-" or word == "less":
            share = 1.0 - share
        elif sign == "+" or word == "more":
            share = 1.0 + share
        return round(share, 6)
    if match := _FACTOR.match(raw):
        return parse_number(match["number"])
    raise UnreadableNumber(
        f"“{shorten(str(text).strip())}” is not a factor. Write it like 0.8 or -20 %."
    )


def factor_words(factor: float) -> str:
    """Return the factor in plain words: "a fifth less", "35 % more", "2.4 times as much"."""
    for value, words in SPOKEN.items():
        if abs(factor / value - 1) < SPOKEN_WITHIN:
            return words
    if factor < 1:
        return f"{100 * (1 - factor):.0f}\u00a0% less"
    return f"{100 * (factor - 1):.0f}\u00a0% more" if factor < 2 else f"{factor:.2g} times as much"


class FactorField(NumberField):
    """A factor typed as "0.8" or "-20 %"; cleans to a number within the bounds of a change."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(low=limits.LIGHT_FACTOR_MIN, high=limits.LIGHT_FACTOR_MAX, **kwargs)
        # Not a decimal keypad: a percent sign and a minus must be in reach.
        self.widget.attrs["inputmode"] = "text"

    def to_python(self, value: object) -> float | None:
        if value in (None, ""):
            return None
        try:
            return parse_factor(value)
        except UnreadableNumber as problem:
            raise ValidationError(str(problem)) from None

    def validate(self, value: float | None) -> None:
        if value is not None and value <= 0:
            raise ValidationError(
                "That leaves no light at all. For lights that are off, set the hours to 0."
            )
        if value is not None and self.high is not None and value > self.high:
            raise ValidationError(
                f"That would be {value:g} times the light. For {value:g} percent write {value:g} %."
            )
        super().validate(value)
