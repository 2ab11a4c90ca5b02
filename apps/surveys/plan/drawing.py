"""The numbered points of a survey on the plan and from the front."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from apps.drawing.cut import Place
from apps.drawing.frame import Frame
from apps.drawing.marks import Mark, tenth
from apps.drawing.plan import plan_frame, plan_rocks
from apps.drawing.section import section_frame, section_rocks
from apps.tanks.models import Tank

# More numbers than this at one place are written as the first ones and a count.
NUMBERS_SHOWN = 3


class PointToRead(Place, Protocol):
    """A numbered place, and what was read there."""

    @property
    def number(self) -> int: ...
    @property
    def reading(self) -> object: ...


@dataclass(frozen=True)
class PointMark(Mark):
    """One place on a drawing, with the numbers of the points above or behind each other."""

    label_y: str = ""
    is_read: bool = False


@dataclass(frozen=True)
class PointDrawing:
    frame: Frame
    rocks: tuple[dict[str, str], ...]
    marks: tuple[PointMark, ...]
    x_ticks: list[Mark]
    y_ticks: list[Mark]


def draw_rows(tank: Tank, rows: Iterable[Place], *, unit: str) -> tuple[PointDrawing, PointDrawing]:
    """Return the plan and the view from the front of readings, as dots without numbers."""
    read = [_Read(0, row.x_cm, row.y_cm, row.depth_cm, row) for row in rows]
    return draw_points(tank, read, unit=unit)


@dataclass(frozen=True)
class _Read:
    """A reading drawn like a point that was read; number 0 shows none."""

    number: int
    x_cm: float
    y_cm: float
    depth_cm: float
    reading: object


def draw_points(
    tank: Tank, points: Iterable[PointToRead], *, unit: str
) -> tuple[PointDrawing, PointDrawing]:
    """Return the plan and the view from the front of PlannedPoints with `reading` set."""
    plan, side = plan_frame(tank), section_frame(tank)
    return (
        _drawing(plan, plan_rocks(tank, plan), points, "y_cm", unit),
        _drawing(side, section_rocks(tank, side), points, "depth_cm", unit),
    )


def _drawing(
    frame: Frame,
    rocks: tuple[dict[str, str], ...],
    points: Iterable[PointToRead],
    second: str,
    unit: str,
) -> PointDrawing:
    groups: dict[tuple[float, float], list[PointToRead]] = {}
    for point in points:
        groups.setdefault((point.x_cm, getattr(point, second)), []).append(point)
    marks = tuple(
        PointMark(
            x=tenth(frame.x(x_cm)),
            y=tenth(frame.y(down_cm)),
            label_y=tenth(frame.y(down_cm) - 6),
            text=_numbers([point.number for point in group]),
            is_read=all(point.reading for point in group),
        )
        for (x_cm, down_cm), group in groups.items()
    )
    return PointDrawing(frame, rocks, marks, frame.x_ticks(unit), frame.y_ticks(unit))


def _numbers(numbers: Sequence[int]) -> str:
    if not numbers[0]:
        return ""
    shown = ", ".join(str(number) for number in numbers[:NUMBERS_SHOWN])
    return shown if len(numbers) <= NUMBERS_SHOWN else f"{numbers[0]} + {len(numbers) - 1}"
