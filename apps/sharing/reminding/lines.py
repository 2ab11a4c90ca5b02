"""One thing that a reminder by e-mail says."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """What is said and where it leads; its mark tells it from all that was said before."""

    kind: str
    mark: str
    text: str
    path: str
