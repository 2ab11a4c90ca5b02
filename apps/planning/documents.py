"""What a plan stores as JSON: a version of its form, and parts that are read one by one."""

import json
import math
from collections.abc import Callable
from typing import TypeVar

from django.core.exceptions import ValidationError

# A stored document is data of one page, not an archive [characters].
DOCUMENT_CHARS_MAX = 400_000

# A JSON object; what its parts are is known once they are read by one of the functions below.
Document = dict[str, object]
Part = TypeVar("Part")


def check_document(value: object) -> None:
    """Raise ValidationError unless value is {} or an object with a version and finite numbers."""
    if not isinstance(value, dict):
        raise ValidationError("A plan's data must be one JSON object.")
    if not value:
        return
    version = value.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise ValidationError("A plan's data must carry its version, a whole number from 1.")
    if not all_plain(value):
        raise ValidationError("A plan's data may hold texts, finite numbers, lists and objects.")
    if len(json.dumps(value)) > DOCUMENT_CHARS_MAX:
        raise ValidationError("A plan's data is too large.")


def all_plain(value: object) -> bool:
    """Return whether value is JSON through and through: no nan, no infinity, no odd keys."""
    if isinstance(value, dict):
        return all(isinstance(key, str) and all_plain(part) for key, part in value.items())
    if isinstance(value, list):
        return all(all_plain(part) for part in value)
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or isinstance(value, str | bool | int)


# Readers of one part: each returns it typed, or raises ValueError.


def document(value: object) -> Document:
    if not isinstance(value, dict):
        raise ValueError(f"{value!r} is no object.")
    return value


def number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{value!r} is no number.")
    return float(value)


def whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"{value!r} is no whole number.")
    return value


def text(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text.")
    return value


def flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{value!r} is neither true nor false.")
    return value


def each(value: object, read: Callable[[object], Part]) -> tuple[Part, ...]:
    """Return the parts of a list, each read."""
    if not isinstance(value, list):
        raise ValueError(f"{value!r} is no list.")
    return tuple(read(part) for part in value)


def pair(value: object) -> tuple[float, float]:
    """Return the two numbers of a list of two."""
    first, second = each(value, number)
    return first, second


def maybe(value: object, read: Callable[[object], Part]) -> Part | None:
    """Return what a reader makes of a value, None of null."""
    return None if value is None else read(value)
