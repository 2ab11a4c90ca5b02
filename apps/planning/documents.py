"""What a plan stores as JSON: what was asked and what was found, with a version of their form."""

import json
import math

from django.core.exceptions import ValidationError

# A stored document is data of one page, not an archive [characters].
DOCUMENT_CHARS_MAX = 400_000


def check_document(value):
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


def all_plain(value):
    """Return whether value is JSON through and through: no nan, no infinity, no odd keys."""
    if isinstance(value, dict):
        return all(isinstance(key, str) and all_plain(part) for key, part in value.items())
    if isinstance(value, list):
        return all(all_plain(part) for part in value)
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or isinstance(value, str | bool | int)
