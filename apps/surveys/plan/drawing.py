"""The numbered points of a survey on the plan and from the front."""

from dataclasses import dataclass

from apps.drawing.frame import Frame, Tick, frame_for, tenth

# More numbers than this at one place are told as the first ones and a count.
NUMBERS_SHOWN = 3


@dataclass(frozen=True)
class Mark:
    """One place on a drawing, with the numbers of the points above or behind each other."""

    x: str
    y: str
    label_y: str
    numbers: str
    is_read: bool


@dataclass(frozen=True)
class PointDrawing:
    frame: Frame
    rocks: tuple[dict, ...]
    marks: tuple[Mark, ...]
    x_ticks: list[Tick]
    y_ticks: list[Tick]


def draw_rows(tank, rows, *, unit):
    """Return the plan and the view from the front of ReadingRows, as dots without numbers."""
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


def draw_points(tank, points, *, unit):
    """Return the plan and the view from the front of PlannedPoints with `reading` set."""
    rocks = list(tank.rocks.present())
    plan = frame_for(tank.length_cm, tank.width_cm, upward=True)
    side = frame_for(tank.length_cm, tank.depth_cm)
    above = [plan.rectangle(r.x_cm, r.y_cm, r.length_cm, r.width_cm) for r in rocks]
    ahead = [side.rectangle(r.x_cm, r.depth_cm, r.length_cm, r.height_cm) for r in rocks]
    return (
        _drawing(plan, above, points, "y_cm", unit),
        _drawing(side, ahead, points, "depth_cm", unit),
    )


def _drawing(frame, rocks, points, second, unit):
    groups = {}
    for point in points:
        groups.setdefault((point.x_cm, getattr(point, second)), []).append(point)
    marks = tuple(
        Mark(
            x=tenth(frame.x(x_cm)),
            y=tenth(frame.y(down_cm)),
            label_y=tenth(frame.y(down_cm) - 6),
            numbers=_numbers([point.number for point in group]),
            is_read=all(point.reading for point in group),
        )
        for (x_cm, down_cm), group in groups.items()
    )
    return PointDrawing(frame, tuple(rocks), marks, frame.x_ticks(unit), frame.y_ticks(unit))


def _numbers(numbers):
    if not numbers[0]:
        return ""
    shown = ", ".join(str(number) for number in numbers[:NUMBERS_SHOWN])
    return shown if len(numbers) <= NUMBERS_SHOWN else f"{numbers[0]} + {len(numbers) - 1}"
