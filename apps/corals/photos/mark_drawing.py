"""Marks as the page draws them over a photo, in the photo's own pixels."""

from collections.abc import Iterable
from dataclasses import dataclass

from apps.corals.colour_models import CoralSize
from apps.corals.photos.colouring import Marks

# Parts of the photo's width and height.
Points = Iterable[tuple[float, float]]


@dataclass(frozen=True)
class DrawnMark:
    role: str
    words: str
    path: str


ROLE_WORDS = {
    "reference": "Reference",
    "regions": "Part of the coral",
    "whole": "Whole coral",
    "scale": "Known length",
}


def drawn_marks(
    marks: Marks | None, size: CoralSize | None, *, width_px: int, height_px: int
) -> tuple[DrawnMark, ...]:
    """Return the DrawnMarks of Marks and of a CoralSize; either may be None."""
    outlines: list[tuple[str, Points]] = []
    if marks is not None:
        outlines += [("reference", marks.reference.corners())] if marks.reference else []
        outlines += [("regions", region.corners()) for region in marks.regions]
    result = [
        DrawnMark(role, ROLE_WORDS[role], path_of(corners, width_px, height_px, closed=True))
        for role, corners in outlines
    ]
    if size is not None and size.marks:
        lines = (("whole", size.marks["outline"]), ("scale", size.marks["scale"]))
        result += [
            DrawnMark(role, ROLE_WORDS[role], path_of(points, width_px, height_px, closed=closed))
            for (role, points), closed in zip(lines, (True, False), strict=True)
            if role == "scale" or size.marks.get("shape", "outline") == "outline"
        ]
    return tuple(result)


def path_of(points: Points, width_px: int, height_px: int, *, closed: bool) -> str:
    corners = " L".join(f"{x * width_px:.1f} {y * height_px:.1f}" for x, y in points)
    return f"M{corners}{'Z' if closed else ''}"
