"""A logger's series day by day at the tank, next to what the map and the schedule say."""

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from apps.lightmap.lightmap import tank_light
from apps.lightmap.spot_light import SpotLight
from apps.photics.day.logged_light import LoggedLight, logged_light
from apps.photics.ground.arrays import FloatArray
from apps.surveys.models import LoggedSeries

# The drawing of one day, in its own units.
LEFT, TOP, WIDTH, HEIGHT = 34.0, 12.0, 310.0, 120.0
# Corners drawn at most; a logger that writes each second would draw nothing more.
CORNERS_MOST = 500


@dataclass(frozen=True)
class LoggedDay:
    """One day at the tank: what was logged, and what was to be expected at that point."""

    day: dt.date
    logged: LoggedLight
    planned: SpotLight | None

    @property
    def percent_of_planned(self) -> float | None:
        if not self.logged.is_whole or self.planned is None or not self.planned.dli_mol:
            return None
        return 100.0 * self.logged.dli_mol / self.planned.dli_mol


@dataclass(frozen=True)
class DayLine:
    """One day's curve as SVG path data, with its scale."""

    path: str
    top_umol: float
    hours: tuple[tuple[str, str], ...]  # (x, text)
    left: float = LEFT
    top: float = TOP
    right: float = LEFT + WIDTH
    foot: float = TOP + HEIGHT
    foot_label: float = TOP + HEIGHT + 16
    beside: float = LEFT - 4
    top_label: float = TOP + 4


def logged_days(series: LoggedSeries) -> list[LoggedDay]:
    """Return the LoggedDays of a series, oldest first, by the clock at the tank."""
    seconds, par = _arrays(series)
    zone = series.tank.zone
    first = dt.datetime.fromtimestamp(seconds[0], zone).date()
    last = dt.datetime.fromtimestamp(seconds[-1], zone).date()
    light = tank_light(series.tank)
    point = [(series.x_cm, series.y_cm, series.depth_cm)]
    result = []
    for n in range((last - first).days + 1):
        day = first + dt.timedelta(days=n)
        start, end = _ends(day, zone)
        logged = logged_light(seconds, par, start=start, end=end)
        if not logged.covered_hours:
            continue
        noon = dt.datetime.combine(day, dt.time(12), zone)
        planned = light.at(point, noon)[0]
        if planned is not None:
            # The day itself: its hours by the clock, and what was changed in it.
            planned = replace(planned, dli_mol=light.dli_on(point, day, zone)[0])
        result.append(LoggedDay(day, logged, planned))
    return result


def day_line(series: LoggedSeries, day: dt.date) -> DayLine:
    """Return the DayLine of one day of a series."""
    seconds, par = _arrays(series)
    start, end = _ends(day, series.tank.zone)
    inside = (seconds >= start) & (seconds <= end)
    t, values = seconds[inside], par[inside]
    step = max(1, len(t) // CORNERS_MOST)
    t, values = t[::step], values[::step]
    top = max(float(values.max()), 1.0) if len(values) else 1.0
    corners = [
        f"{LEFT + WIDTH * (a - start) / (end - start):.1f} {TOP + HEIGHT * (1 - v / top):.1f}"
        for a, v in zip(t, values, strict=True)
    ]
    hours = tuple((f"{LEFT + WIDTH * h / 24:.1f}", f"{h:02d}:00") for h in (0, 6, 12, 18, 24))
    return DayLine("M" + "L".join(corners) if corners else "", top, hours)


def _arrays(series: LoggedSeries) -> tuple[FloatArray, FloatArray]:
    samples = np.array(series.samples, float)
    return samples[:, 0], samples[:, 1] * series.correction_factor


def _ends(day: dt.date, zone: dt.tzinfo) -> tuple[float, float]:
    """Return midnight and midnight of a day [s since 1970]: 23 to 25 hours."""
    start = dt.datetime.combine(day, dt.time(0), zone)
    end = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(0), zone)
    return start.timestamp(), end.timestamp()
