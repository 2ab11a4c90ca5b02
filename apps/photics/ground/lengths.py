"""Lengths in centimetres and inches."""

CM_PER_INCH = 2.54
CM, INCH = "cm", "in"

# What each spelling of a unit means [cm].
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
    """Return a length [cm] given in `unit`, a key of UNIT_WORDS.

    >>> to_cm(2, "in")
    5.08
    """
    return value * UNIT_WORDS[unit]


def from_cm(value_cm: float, unit: str) -> float:
    """Return a length in `unit`, a key of UNIT_WORDS, given in cm.

    >>> from_cm(5.08, "in")
    2.0
    """
    return value_cm / UNIT_WORDS[unit]
