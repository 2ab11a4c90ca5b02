"""Marks as the page draws them over a photo, in the photo's own pixels."""

from dataclasses import dataclass


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


def drawn_marks(marks, size, *, width_px, height_px):
    """Return the DrawnMarks of Marks and of a CoralSize; either may be None."""
    outlines = []
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


def path_of(points, width_px, height_px, *, closed):
    corners = " L".join(f"{x * width_px:.1f} {y * height_px:.1f}" for x, y in points)
    return f"M{corners}{'Z' if closed else ''}"
