"""A PAR cell that holds more than one number: “200-220” or “212±5”."""

import math
import re

from apps.common.numbers import PAR_WORDS, parse_number

# What stands between two ends, and between a middle and its spread.
BETWEEN = r"(?:-|–|—|to|\.\.\.?(?!\.)|…)"
AROUND = r"(?:±|\+/-|\+-|\+−)"
_ENDS = re.compile(rf"^([\d.,]+?)\s*{BETWEEN}\s*([\d.,]+)(.*)$", re.IGNORECASE)
_AROUND = re.compile(rf"^([\d.,]+)\s*{AROUND}\s*([\d.,]+)(.*)$")
# What the ends of a swing are to its spread: the deviation of a sine wave is its whole height by
# the root of 8, as the entry pad has it.
SWING_PER_SPREAD = math.sqrt(8.0)


def parse_burst(text: str) -> tuple[float, float | None]:
    """Return a PAR cell's value and its spread [umol m-2 s-1], None for a plain number.

    Of two ends of a flicker it is the middle. Raises UnreadableNumber.
    """
    raw = text.strip()
    if parts := _ENDS.match(raw):
        first, last, words = parts.groups()
        low, high = parse_number(f"{first} {words}", words=PAR_WORDS), parse_number(last)
        return (low + high) / 2, abs(high - low) / SWING_PER_SPREAD
    if parts := _AROUND.match(raw):
        middle, spread, words = parts.groups()
        return parse_number(f"{middle} {words}", words=PAR_WORDS), parse_number(spread)
    return parse_number(raw, words=PAR_WORDS), None
