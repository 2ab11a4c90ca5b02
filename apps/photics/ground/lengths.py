"""Lengths in centimetres and inches."""

# Exact since the international yard and pound agreement of 1959.
CM_PER_INCH = 2.54
CM, INCH = "cm", "in"

# What each spelling of a unit means [cm]; exact.
UNIT_WORDS = {
    "cm": 1.0,
    "mm": 0.1,
    "m": 100.0,
    "in": CM_PER_INCH,
    "inch": CM_PER_INCH,
    "inches": CM_PER_INCH,
    '"': CM_PER_INCH,
    "″": CM_PER_INCH,
}


def to_cm(value: float, unit: str) -> float:
    """Return a length [cm] whose `value` is in `unit`, a key of UNIT_WORDS. Exact.

    >>> to_cm(2, "in")
    5.08
    """
    return value * UNIT_WORDS[unit]


def from_cm(value_cm: float, unit: str) -> float:
    """Return a length in `unit`, a key of UNIT_WORDS, from `value_cm` [cm]. Exact.

    >>> from_cm(5.08, "in")
    2.0
    """
    return value_cm / UNIT_WORDS[unit]
