"""What a program sends, as JSON of a sound depth."""

from collections.abc import Mapping
from typing import IO

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

# Nothing here is nested deeper than a channel of a row of a rig [levels].
DEPTH_MAX = 20
TOO_DEEP = f"JSON nested deeper than {DEPTH_MAX} levels is not read."


class ShallowJSONParser(JSONParser):
    """A JSONParser that answers 400 to what is nested too deep to be read safely."""

    def parse(
        self, stream: IO, media_type: str | None = None, parser_context: Mapping | None = None
    ) -> object:
        try:
            data = super().parse(stream, media_type, parser_context)
        except RecursionError:
            raise ParseError(TOO_DEEP) from None
        if is_deeper(data, DEPTH_MAX):
            raise ParseError(TOO_DEEP)
        return data


def is_deeper(data: object, levels: int) -> bool:
    """Return whether a decoded JSON value is nested deeper than so many levels."""
    here = [data]
    for _ in range(levels + 1):
        inner: list[object] = []
        for value in here:
            if isinstance(value, dict):
                inner += value.values()
            elif isinstance(value, list):
                inner += value
        if not inner:
            return False
        here = inner
    return True
