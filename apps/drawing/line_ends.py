"""Labels at the right ends of a chart's lines: what a line is, or its last value, without a key."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

# Between the middles of two labels of 12 px text [px].
APART_PX = 14.0


@dataclass(frozen=True)
class LineEnd:
    """A text beside the end of a line, its middle so many pixels from the top."""

    y: float
    text: str
    kind: str


def spread(ends: Sequence[LineEnd], *, height: float) -> tuple[LineEnd, ...]:
    """Return LineEnds from the top down, moved as little as keeps them from lying on each other.

    Those of one kind of line may lie below `height` where there is no room left above.
    """
    result: list[LineEnd] = []
    for end in sorted(ends, key=lambda end: end.y):
        lowest = result[-1].y + APART_PX if result else 0.0
        result.append(replace(end, y=max(end.y, lowest)))
    # What was pushed out at the foot pushes back upward.
    floor = height
    for place in reversed(range(len(result))):
        if result[place].y <= floor:
            break
        result[place] = replace(result[place], y=floor)
        floor -= APART_PX
    return tuple(result)
