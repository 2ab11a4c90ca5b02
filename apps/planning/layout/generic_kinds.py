"""Generic fixtures a layout may be sought for, for those who own nothing yet."""

from dataclasses import dataclass


@dataclass(frozen=True)
class GenericKind:
    """A usual fixture of its kind: lit area [cm], watts, output [umol/s], optics it comes with."""

    name: str
    kind: str
    lit_length_cm: float
    lit_width_cm: float
    beams_deg: tuple[float, ...]
    watts: float
    ppf_umol_s: float


# Trade knowledge from memory, no published source; "mid-power" is what the rule of thumb's
# 75-150 over 2 x 2 ft amounts to (photics.layout.rule).
GENERIC_KINDS = {
    "small": GenericKind("Small puck", "puck", 10.0, 10.0, (90.0, 60.0), 25.0, 32.0),
    "mid": GenericKind("Mid-power panel", "panel", 20.0, 20.0, (110.0, 55.0), 45.0, 60.0),
    "strong": GenericKind("Strong panel", "panel", 35.0, 20.0, (110.0, 70.0), 120.0, 165.0),
    "bar60": GenericKind("Bar, 60 cm", "bar", 60.0, 3.0, (110.0,), 30.0, 42.0),
    "bar90": GenericKind("Bar, 90 cm", "bar", 90.0, 3.0, (110.0,), 45.0, 63.0),
    "tubes60": GenericKind("Two tubes, 55 cm", "tube", 55.0, 12.0, (120.0,), 48.0, 42.0),
    "tubes90": GenericKind("Two tubes, 85 cm", "tube", 85.0, 12.0, (120.0,), 78.0, 68.0),
    "tubes120": GenericKind("Two tubes, 115 cm", "tube", 115.0, 12.0, (120.0,), 108.0, 92.0),
}
