"""Texts that came as JSON from elsewhere: which of them a database can hold."""


def is_storable(value):
    """Return whether all texts in a decoded JSON value can be kept and shown again.

    JSON may escape a zero character, which PostgreSQL refuses, and one half of a surrogate pair,
    which no encoding of a page can write.
    """
    left = [value]
    while left:
        found = left.pop()
        if isinstance(found, dict):
            left += [*found.keys(), *found.values()]
        elif isinstance(found, list):
            left += found
        elif isinstance(found, str) and any(c == "\0" or "\ud800" <= c <= "\udfff" for c in found):
            return False
    return True
