"""One thing that a reminder says."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """What is said and where it leads; its mark tells it from all that was said before.

    A browser's notification says its kind and the `tank` alone, "" where it is of none.
    """

    kind: str
    mark: str
    text: str
    path: str
    tank: str = ""
