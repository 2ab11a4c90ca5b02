"""Texts from outside: which of them a database can hold, and which a person can see as they are."""

import re
import unicodedata

# What no screen shows: control characters but tab and line ends, marks that turn the direction
# of a line around, and spaces without a width.
_HIDDEN = re.compile(
    "[\0-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u180e\u200b\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]"
)
# The two joiners shape emoji, Arabic and Indic writing. Behind anything else, a Latin letter, a
# space or another joiner, they only make a second name that looks like the first.
_IDLE_JOINER = re.compile("(?:^|[\0-\u02ff\u2000-\u200f])[\u200c\u200d]")
# Letters by their category that are drawn as nothing: Hangul fillers and the empty Braille cell.
_BLANK_LETTERS = "\u115f\u1160\u2800\u3164\uffa0"


def hidden_character(text: str) -> str | None:
    """Return the first character that hides in a text or turns it around, None if there is none."""
    met = _HIDDEN.search(text) or _IDLE_JOINER.search(text)
    return met.group()[-1] if met else None


def is_visible(text: str) -> bool:
    """Return whether at least one character of a text leaves a mark on the screen."""
    return any(unicodedata.category(c)[0] in "LNPS" and c not in _BLANK_LETTERS for c in text)


def texts_within(value: object) -> list[str]:
    """Return all texts in a decoded JSON value, those that name others included."""
    texts: list[str] = []
    left = [value]
    while left:
        item = left.pop()
        if isinstance(item, dict):
            left += [*item.keys(), *item.values()]
        elif isinstance(item, list):
            left += item
        elif isinstance(item, str):
            texts.append(item)
    return texts


def is_storable(value: object) -> bool:
    """Return whether all texts in a decoded JSON value can be kept and shown again.

    JSON may escape a zero character, which PostgreSQL refuses, and one half of a surrogate pair,
    which no encoding of a page can write.
    """
    return not any(
        c == "\0" or "\ud800" <= c <= "\udfff" for text in texts_within(value) for c in text
    )
