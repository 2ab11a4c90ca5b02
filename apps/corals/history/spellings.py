"""What keepers write of a coral, as the app knows it: “rtn”, “browned out”, “polyps closed”."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Generic, TypeVar

from apps.corals.models import HealthNote
from apps.corals.notes.sign_words import SIGN_WORDS, own_name

Kind = TypeVar("Kind")

Seen, Where, Strength, Condition = (
    HealthNote.Seen,
    HealthNote.Where,
    HealthNote.Strength,
    HealthNote.Condition,
)
# Words that mean a sign where they are all that is written, and anything within a sentence: a
# brown rock, a good spot, the lights closed early. Bare “white” is left to the keeper: tips that
# grow are white too.
ALONE = {
    "well", "good", "great", "fine", "ok", "okay", "happy", "normal", "stable", "unchanged",
    "lighter", "brown", "darker", "muddy", "closed", "shut", "pastel", "melting", "stripping",
    "growth", "grew", "light tips", "pest", "algae", "sting", "broken", "no change",
}  # fmt: skip
WHERES = {
    Where.ALL_OVER: ("all over", "everywhere", "whole colony", "completely"),
    Where.TIPS: ("tips", "tip", "edges", "edge", "at the tips", "at the edges", "rim"),
    Where.TOP: ("top", "upper side", "on top"),
    Where.UNDER: ("underside", "lower side", "underneath", "from below"),
    Where.BASE: ("base", "from the base", "at the base", "bottom up"),
    Where.PATCH: ("patches", "patch", "patchy", "spots", "in places"),
    Where.SIDE: ("one side", "side"),
}  # fmt: skip
STRENGTHS = {
    Strength.SLIGHT: ("slight", "slightly", "a bit", "a little", "little", "somewhat", "minor"),
    Strength.STRONG: (
        "strong", "strongly", "very", "severe", "severely", "heavily", "badly", "totally", "fully",
    ),
}  # fmt: skip
CONDITIONS = {
    Condition.THRIVING: ("thriving", "excellent", "superb"),
    Condition.GOOD: ("good", "well", "fine", "ok", "okay", "healthy"),
    Condition.OFF: ("a little off", "off", "so so", "not quite right", "fair", "average"),
    Condition.POOR: ("poor", "unwell", "not good"),
    Condition.BAD: ("bad", "very poor"),
    Condition.FAILING: ("failing", "nearly dead", "almost dead"),
}


class Spellings(Generic[Kind]):
    """What each spelling means; where two fit, the longer one counts."""

    def __init__(self, means: Mapping[str, Kind]) -> None:
        self.means = means
        longest_first = sorted(means, key=len, reverse=True)
        words = "|".join(map(re.escape, longest_first))
        self.pattern = re.compile(rf"\b(?:{words})\b")


SIGN_OF = {word: sign for sign, words in SIGN_WORDS.items() for word in (own_name(sign), *words)}
KNOWN_WORDS = Spellings(SIGN_OF)
WITHIN_WORDS = Spellings({word: sign for word, sign in SIGN_OF.items() if word not in ALONE})
WHERE_WORDS = Spellings({word: where for where, words in WHERES.items() for word in words})
STRENGTH_WORDS = Spellings({word: how for how, words in STRENGTHS.items() for word in words})
# Words before a sign that say it is not there, or not any more.
_NOT = re.compile(
    r"\b(?:no|not|never|without|isn.?t|wasn.?t|stopped|no longer|no more|less)\s+"
    r"(?:\w+\s+)?$"
)
# Words that say nothing of their own, so that a cell of known words is known whole.
_PLAIN = re.compile(
    r"\b(?:and|with|but|also|is|it|was|are|the|at|on|in|some|still|from|again|now|a|of|its|all"
    r"|looks?|looking|started|starting|out|up|over|coral|colony|polyps?|today)\b"
)
_GAPS = re.compile(r"[^\w%]+")
SHORT_WORDS = 4


@dataclass(frozen=True)
class SignReading:
    """What a cell says: its signs, main one first, and whether words are left over."""

    signs: tuple[str, ...] = ()
    strength: int | None = None
    where: str = ""
    is_whole: bool = False


def plain_words(text: str) -> str:
    """Return a text small, with single spaces, so that two spellings of one thing are alike."""
    return " ".join(_GAPS.sub(" ", text.casefold()).split())


def is_short(text: str) -> bool:
    """Whether a text is a spelling that may come again, not a sentence."""
    return 0 < len(plain_words(text).split()) <= SHORT_WORDS


def read_signs(text: str, *, also: Mapping[str, str] | None = None) -> SignReading:
    """Return the SignReading of a cell; `also` are spellings and what the keeper says they mean."""
    raw = plain_words(text)
    if also and raw in also:
        return SignReading((also[raw],), is_whole=True)
    return _known_signs(raw)


# A table says the same of many days and corals.
@lru_cache(maxsize=2000)
def _known_signs(raw: str) -> SignReading:
    result = _read(raw, KNOWN_WORDS)
    return result if result.is_whole else _read(raw, WITHIN_WORDS)


def _read(raw: str, spellings: Spellings[str]) -> SignReading:
    signs, rest = _taken(raw, spellings, heeds_not=True)
    strengths, rest = _taken(rest, STRENGTH_WORDS)
    wheres, rest = _taken(rest, WHERE_WORDS)
    unwell = [sign for sign in signs if sign != Seen.WELL]
    return SignReading(
        signs=tuple(unwell or signs),
        strength=strengths[0] if strengths else None,
        where=wheres[0] if wheres and unwell else "",
        is_whole=bool(signs) and not _PLAIN.sub(" ", rest).strip(),
    )


def read_condition(text: str, *, also: Mapping[str, int] | None = None) -> int | None:
    """Return the condition that a cell names, None where it is none of those known."""
    raw = plain_words(text)
    if also and raw in also:
        return also[raw]
    return next((c for c, spellings in CONDITIONS.items() if raw in spellings), None)


def _taken(
    raw: str, spellings: Spellings[Kind], *, heeds_not: bool = False
) -> tuple[list[Kind], str]:
    """Return the kinds a text names in order, each once, and the text without them."""
    named, rest, at = [], "", 0
    for match in spellings.pattern.finditer(raw):
        before = raw[at : match.start()]
        if heeds_not and _NOT.search(raw[: match.start()]):
            # “No bleaching” tells nothing of a sign, and stays in the words.
            rest += before + match[0]
        else:
            named.append(spellings.means[match[0]])
            rest += before + " "
        at = match.end()
    return list(dict.fromkeys(named)), rest + raw[at:]
