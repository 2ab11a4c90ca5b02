"""What a shared cache outside of the database may hold: values of JSON, never a pickle."""

import json


class PlainValues:
    """Writes and reads values for Redis; a number stays one that it can count up."""

    def dumps(self, value: object) -> bytes:
        return json.dumps(value).encode()

    def loads(self, stored: bytes) -> object:
        return json.loads(stored)
