"""The day schedule in force as a small drawing: when there is light, and how much it is worth."""

from dataclasses import dataclass

from apps.lighting.day_run import DayRun, DaySchedule
from apps.photics.ground.dose import dli_mol

# The drawing's box: a day of 24 hours across, full light at the top.
LEFT, TOP, WIDTH, HEIGHT = 8, 26, 304, 74
FOOT = TOP + HEIGHT
# Two hour labels closer than this would run into each other.
LABEL_ROOM = 26
EXAMPLE_UMOL = 100.0


@dataclass(frozen=True)
class HourLabel:
    x: float
    text: str
    anchor: str


@dataclass(frozen=True)
class DayDrawing:
    """The trapezoid of one day, its hour labels, and what it means for the daily light."""

    outline: str
    left: float
    right: float
    top: float
    foot: float
    middle: float
    labels: tuple[HourLabel, ...]
    sentence: str
    full_hours: float
    example_par_umol: float
    example_dli_mol: float


def hour_x(hours: float) -> float:
    """Return the place across the drawing of an hour after first light."""
    return round(LEFT + WIDTH * hours / 24.0, 1)


def day_drawing(schedule: DaySchedule | DayRun | None) -> DayDrawing | None:
    """Return the DayDrawing of a DaySchedule, or None where what was entered is not hours alone."""
    if not isinstance(schedule, DaySchedule):
        return None
    day, ramp = schedule.day_hours, schedule.ramp_hours
    corners = [(0, FOOT), (ramp, TOP), (day - ramp, TOP), (day, FOOT)]
    return DayDrawing(
        outline=" ".join(f"{hour_x(h):g},{y:g}" for h, y in corners),
        left=LEFT,
        right=LEFT + WIDTH,
        top=TOP,
        foot=FOOT,
        middle=hour_x(day / 2),
        labels=hour_labels(day, ramp),
        sentence=day_sentence(day, ramp),
        full_hours=schedule.full_hours,
        example_par_umol=EXAMPLE_UMOL,
        example_dli_mol=dli_mol(EXAMPLE_UMOL, full_hours=schedule.full_hours),
    )


def hour_labels(day_hours: float, ramp_hours: float) -> tuple[HourLabel, ...]:
    """Return the labels that have room: both ends of the day first, then the ramps' corners."""
    result: list[HourLabel] = []
    for hours in (0.0, day_hours, 24.0, ramp_hours, day_hours - ramp_hours):
        x = hour_x(hours)
        if all(abs(x - label.x) >= LABEL_ROOM for label in result):
            anchor = "start" if hours == 0 else "end" if hours == 24 else "middle"
            result.append(HourLabel(x, f"{hours:g}\u00a0h", anchor))
    return tuple(result)


def day_sentence(day_hours: float, ramp_hours: float) -> str:
    """Say the schedule in words."""
    if day_hours == 0:
        return "No light at all."
    if ramp_hours == 0:
        return f"{day_hours:g} hours of light a day, on and off at once."
    full = day_hours - 2 * ramp_hours
    return (
        f"{day_hours:g} hours from first to last light: {ramp_hours:g}\u00a0h up, "
        f"{full:g}\u00a0h at full light, {ramp_hours:g}\u00a0h down."
    )
