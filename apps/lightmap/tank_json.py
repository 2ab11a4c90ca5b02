"""A tank's JSON file: its text, its keys' lines, and one line for every fault."""

import math
import re
from collections.abc import Collection
from pathlib import Path
from typing import TypedDict, TypeGuard, Unpack

FilePath = str | Path
Record = dict[str, object]  # a JSON object
Bounds = tuple[float, float]


class Where(TypedDict, total=False):
    """Which of a key's places in a file is meant: the nth one behind the key `within`."""

    within: str
    nth: int


class Item(Where):
    """The same, and what to call the fixture or rock in a sentence."""

    who: str


class FieldFileError(ValueError):
    """One line that names the file, the line and what is wrong there; `key` where one is meant."""

    def __init__(self, path: FilePath, line: int, cause: str, key: str = "") -> None:
        super().__init__(f"{path}: line {line}: {cause}")
        self.cause, self.key = cause, key


def read_text(path: FilePath) -> str:
    """Return a file's text without a byte order mark, lines ending in newline alone."""
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except OSError as problem:
        raise FieldFileError(path, 1, problem.strerror or "cannot be read") from problem
    except UnicodeDecodeError as problem:
        line = problem.object[: problem.start].count(b"\n") + 1
        raise FieldFileError(path, line, "is not UTF-8 text") from problem
    return text.replace("\r\n", "\n").replace("\r", "\n")


def is_number(value: object) -> TypeGuard[float]:
    """Return whether a decoded JSON value is a number that a float can hold."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number of hundreds of digits
        return False


class Finder:
    """Where in a JSON file a key stands, so that a fault can name its line."""

    def __init__(self, path: FilePath, text: str) -> None:
        self.path, self.text = path, text

    def line_of(self, key: str, *, within: str = "", nth: int = 0) -> int:
        """Return the line of the nth `key` after the key `within`, or of `within`, from 1."""
        start = self.text.find(f'"{within}"') if within else 0
        start = max(start, 0)
        result = list(re.finditer(rf'"{re.escape(key)}"\s*:', self.text[start:]))
        at = start + result[min(nth, len(result) - 1)].start() if result else start
        return self.text.count("\n", 0, at) + 1

    def fault(self, cause: str, key: str, **where: Unpack[Where]) -> FieldFileError:
        """Return the FieldFileError for a key."""
        return FieldFileError(self.path, self.line_of(key, **where), cause, key)

    def number(
        self,
        record: Record,
        key: str,
        bounds: Bounds,
        *,
        who: str = "",
        default: float | None = None,
        **where: Unpack[Where],
    ) -> float:
        """Return a finite number of a JSON object within bounds, or raise FieldFileError."""
        value = record.get(key, default)
        if value is None:
            raise self.fault(f"{who}{key} is missing", key, **where)
        if not is_number(value):
            raise self.fault(f"{who}{key} is not a number", key, **where)
        low, high = bounds
        if not low <= value <= high:
            cause = f"{who}{key} is {value:g}; it must be from {low:g} to {high:g}"
            raise self.fault(cause, key, **where)
        return float(value)

    def word(
        self,
        record: Record,
        key: str,
        words: Collection[str],
        *,
        who: str = "",
        default: str,
        **where: Unpack[Where],
    ) -> str:
        """Return one of the words a key may hold, or raise FieldFileError."""
        value = record.get(key, default)
        if not isinstance(value, str) or value not in words:
            cause = f"{who}{key} must be one of {', '.join(words)}"
            raise self.fault(cause, key, **where)
        return value

    def records(self, record: Record, key: str) -> list[Record]:
        """Return the list of JSON objects under a key, empty when there is none."""
        result = record.get(key, [])
        if not isinstance(result, list) or not all(isinstance(item, dict) for item in result):
            raise self.fault(f"{key} must be a list of objects", key)
        return result
