"""Marks on a photo as a keeper can type them: numbers in percent from the upper left corner.

A line is a word and its numbers: "box 10 20 35 60" and "ellipse 42 15 90 85" are left, top, right
and bottom; "outline 40 20, 50 30, 45 55" are the corners in order, across and down.
"""

from apps.common.numbers import UnreadableNumber, parse_number
from apps.photics import limits
from apps.photics.ground.regions import BOX, OUTLINE, Region

WORDS = {"box": BOX, "ellipse": "ellipse", "outline": OUTLINE}


class UnreadableMark(ValueError):
    """A mark can't be read; the message says why, for the keeper."""


def parse_region(text, *, usual):
    """Return the Region one line tells; without a word its shape is `usual`."""
    words = text.replace(";", ",").split(None, 1)
    shape, rest = usual, text
    if words and words[0].lower() in WORDS:
        shape, rest = WORDS[words[0].lower()], words[1] if len(words) > 1 else ""
    elif words and words[0][:1].isalpha():
        raise UnreadableMark(f"“{words[0][:20]}” is no shape: say box, ellipse or outline.")
    points = parse_points(rest)
    if shape != OUTLINE and len(points) != 2:
        raise UnreadableMark("Give four numbers: left, top, right and bottom, in percent.")
    if shape == OUTLINE and not 3 <= len(points) <= limits.OUTLINE_POINTS_MAX:
        raise UnreadableMark(
            f"An outline has 3 to {limits.OUTLINE_POINTS_MAX} corners, across and down in percent."
        )
    return Region(shape, points)


def parse_points(text):
    """Return the points of numbers in percent as shares; raises UnreadableMark."""
    try:
        numbers = [parse_number(part) for part in text.replace(",", " ").split()]
    except UnreadableNumber as problem:
        raise UnreadableMark(str(problem)) from None
    if len(numbers) % 2:
        raise UnreadableMark("Numbers come in pairs: across and down.")
    if not all(0 <= number <= 100 for number in numbers):
        raise UnreadableMark("Numbers are percent of the photo: 0 to 100.")
    shares = [number / 100 for number in numbers]
    return tuple(zip(shares[::2], shares[1::2], strict=True))


def parse_regions(text, *, usual):
    """Return the Regions of a text, one a line; blank lines don't count."""
    result = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            result.append(parse_region(line, usual=usual))
        except UnreadableMark as problem:
            raise UnreadableMark(f"Line {number}: {problem}") from None
    return result


def region_text(region):
    """Return the line that tells a Region."""
    return f"{region.shape} {points_text(region.points)}"


def points_text(points):
    """Return points as text, in percent."""
    return ", ".join(f"{100 * x:.4g} {100 * y:.4g}" for x, y in points)
