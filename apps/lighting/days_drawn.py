"""The day curves that run over a tank, drawn zone by zone, and the days of 23 or 25 hours."""

import datetime as dt
from dataclasses import dataclass

from apps.drawing.day_curve import EXAMPLE_UMOL, CurveDrawing, curve_drawing
from apps.lighting.clock import clock_changes, day_ends, local_stretches
from apps.lighting.day_models import Zone
from apps.lighting.day_run import DayRun
from apps.lighting.history import LightHistory
from apps.photics.day.curve import DayCurve
from apps.photics.ground.dose import dli_mol

# How far ahead days that are not 24 hours long are looked for [d].
YEAR_DAYS = 366


@dataclass(frozen=True)
class ZoneDay:
    """The curves that run in one zone, drawn together, and their sum's worth for the display."""

    words: str
    drawing: CurveDrawing
    lines: tuple[tuple[str, str], ...]  # (name, dash) of each curve
    full_hours: float | None  # hours at the day's peak [h], None outside the display
    example_par_umol: float = EXAMPLE_UMOL
    example_dli_mol: float | None = None


def days_now(history: LightHistory, moment: dt.datetime) -> tuple[ZoneDay, ...]:
    """Return a ZoneDay for each zone in which day curves run, the display first."""
    running = history.days_at(moment)
    days = []
    for zone in list(Zone):
        here = [r for r in running if r.zone == zone]
        if not here:
            continue
        drawing = curve_drawing([(r.name, r.curve) for r in here])
        schedule = history.schedule_at(moment)
        hours = None
        if zone == Zone.DISPLAY and isinstance(schedule, DayRun):
            hours = schedule.full_hours
        days.append(
            ZoneDay(
                words=zone.label,
                drawing=drawing,
                lines=tuple((line.name, line.dash) for line in drawing.lines),
                full_hours=hours,
                example_dli_mol=None if hours is None else dli_mol(EXAMPLE_UMOL, full_hours=hours),
            )
        )
    return tuple(days)


@dataclass(frozen=True)
class OddDay:
    """A date of 23 or 25 hours, and the hours of full light the curve then gives."""

    date: dt.date
    hours: float
    full_hours: float


def odd_days(curve: DayCurve, today: dt.date, zone: dt.tzinfo) -> tuple[OddDay, ...]:
    """Return the OddDays of the year to come."""
    return tuple(
        OddDay(date, hours, curve.hours_over(local_stretches(*day_ends(date, zone), zone)))
        for date, hours in clock_changes(today, zone, within_days=YEAR_DAYS)
    )
