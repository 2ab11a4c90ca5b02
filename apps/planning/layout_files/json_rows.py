"""One object of a question's JSON: its numbers, words and ranges, each refused by its key."""

from collections.abc import Collection
from dataclasses import dataclass, field

from apps.lightmap.tank_json import Bounds, FieldFileError, Finder, Record, Where

NAME_CHARS_MOST = 80


@dataclass(frozen=True)
class Row:
    """A JSON object, what to call it in a sentence, and where in its file it stands."""

    finder: Finder
    record: Record
    who: str = ""
    where: Where = field(default_factory=Where)

    def fault(self, cause: str, key: str) -> FieldFileError:
        """Return the FieldFileError for a key of the object."""
        return self.finder.fault(f"{self.who}{cause}", key, **self.where)

    def number(self, key: str, bounds: Bounds, *, default: float | None = None) -> float:
        """Return a number within bounds."""
        return self.finder.number(
            self.record, key, bounds, who=self.who, default=default, **self.where
        )

    def maybe(self, key: str, bounds: Bounds) -> float | None:
        """Return a number within bounds, None where the key is absent or null."""
        return None if self.record.get(key) is None else self.number(key, bounds)

    def whole(self, key: str, bounds: Bounds, *, default: int | None = None) -> int:
        """Return a whole number within bounds."""
        value = self.number(key, bounds, default=default)
        if value != int(value):
            raise self.fault(f"{key} must be a whole number", key)
        return int(value)

    def numbers(self, key: str, bounds: Bounds, *, most: int) -> tuple[float, ...]:
        """Return from one to `most` numbers within bounds, a list of them in the object."""
        value = self.record.get(key)
        if value is None:
            raise self.fault(f"{key} is missing", key)
        if not isinstance(value, list) or not 1 <= len(value) <= most:
            raise self.fault(f"{key} must be a list of 1 to {most} numbers", key)
        return tuple(Row(self.finder, {key: one}, self.who, self.where).number(key, bounds)
                     for one in value)  # fmt: skip

    def ends(self, key: str, bounds: Bounds, *, may_be_one: bool = False) -> tuple[float, float]:
        """Return from and to, a list of two numbers in the object; equal only where they may be."""
        ends = self.numbers(key, bounds, most=2)
        if len(ends) != len(bounds):
            raise self.fault(f"{key} must be a list of two numbers, from and to", key)
        low, high = ends
        if low > high or (low == high and not may_be_one):
            raise self.fault(f"{key} must go from the lesser to the greater", key)
        return low, high

    def word(self, key: str, words: Collection[str], *, default: str) -> str:
        """Return one of the words a key may hold, the default where it is absent or null."""
        record = {key: self.record.get(key) or default}
        return self.finder.word(record, key, words, who=self.who, default=default, **self.where)

    def name(self) -> str:
        """Return the name the object has."""
        name = self.record.get("name")
        # Half a pair of characters, which JSON may hold, can't be written anywhere.
        if not isinstance(name, str) or not name.encode(errors="ignore").strip():
            raise self.fault("name must be a text", "name")
        if any("\ud800" <= character <= "\udfff" for character in name):
            raise self.fault("name holds a broken character", "name")
        if len(name) > NAME_CHARS_MOST:
            raise self.fault(f"name has more than {NAME_CHARS_MOST} characters", "name")
        return name


def rows(finder: Finder, record: Record, key: str, *, noun: str, most: int) -> list[Row]:
    """Return from one to `most` objects under a key, each called `noun` with its number."""
    if record.get(key) is None:
        raise finder.fault(f"{key} is missing", key)
    listed = finder.records(record, key)
    if not 1 <= len(listed) <= most:
        raise finder.fault(f"{key} holds {len(listed)}; it must be from 1 to {most}", key)
    return [
        Row(finder, item, f"{noun} {k + 1}: ", Where(within=key, nth=k))
        for k, item in enumerate(listed)
    ]
