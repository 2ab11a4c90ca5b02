"""What a look at a site says of one thing."""

from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    OK = "ok"
    # Works, and may be what the host wants.
    LOOK = "look"
    MEND = "mend"


@dataclass(frozen=True)
class Finding:
    """How it is with one thing, and what to do where that is needed."""

    thing: str
    state: State
    words: str


def ok(thing: str, words: str) -> Finding:
    return Finding(thing, State.OK, words)


def look(thing: str, words: str) -> Finding:
    return Finding(thing, State.LOOK, words)


def mend(thing: str, words: str) -> Finding:
    return Finding(thing, State.MEND, words)
