"""Links that change one thing of what the map shows and keep all the rest."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode


@dataclass(frozen=True)
class Choice:
    """A link to the map with one thing chosen; `address` is without the page's path."""

    key: str
    name: str
    address: str
    is_here: bool


def address_of(wishes: Mapping[str, object], **others: object) -> str:
    """Return the address of wishes with some of them other; None leaves one out."""
    return urlencode({key: v for key, v in {**wishes, **others}.items() if v is not None})


def choices(
    wishes: Mapping[str, object], name: str, words: Mapping[str, str], *, here: str, usual: str
) -> tuple[Choice, ...]:
    """Return a Choice for each value of one wish, by its words; the usual one is left unsaid."""
    return tuple(
        Choice(key, word, address_of(wishes, **{name: None if key == usual else key}), key == here)
        for key, word in words.items()
    )


def toggles(
    wishes: Mapping[str, object], name: str, words: Mapping[str, str], off: frozenset[str]
) -> tuple[Choice, ...]:
    """Return a Choice for each thing that can be put on or off; `is_here` for those that are on."""

    def without(key: str) -> str | None:
        return ".".join(k for k in words if k in off ^ {key}) or None

    return tuple(
        Choice(key, word, address_of(wishes, **{name: without(key)}), key not in off)
        for key, word in words.items()
    )
