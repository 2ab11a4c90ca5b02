"""Values of the water on the days of notes: how each stood, and how it changed over a fortnight."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.corals.models import WaterEvent
from apps.corals.water.measured import measured_value
from apps.corals.water.probe import HIGHEST, LOWEST
from apps.photics.ground.arrays import ArrayLike, FloatArray
from apps.tanks.models import Tank

# A value is carried between two readings, or on from the last, for so long [d]. Our own choice.
BETWEEN_DAYS, CARRIED_DAYS = 21, 10
# Over which a value's change is taken [d]: as long as a water event may show.
TREND_DAYS = 14
# Days with a reading below which a value is not weighed. Our own choice.
DAYS_MIN = 6


@dataclass(frozen=True)
class WaterSeries:
    """One value of the water by days: the mean of each day's readings, oldest first."""

    words: str  # "temperature [°C]"
    day: FloatArray  # (m,) [d]
    value: FloatArray  # (m,), in the unit of its words

    def on(self, day: ArrayLike) -> FloatArray:
        """Return the value on days (n,), between the readings near them; NaN where none is near."""
        day = np.asarray(day, float)
        after = np.searchsorted(self.day, day)
        before = np.clip(after - 1, 0, len(self.day) - 1)
        last = after == len(self.day)
        following = np.minimum(after, len(self.day) - 1)
        near = self.day[following] - self.day[before] <= BETWEEN_DAYS
        near = np.where(last, day - self.day[before] <= CARRIED_DAYS, near)
        exact = ~last & (self.day[following] == day)
        known = exact | (near & (after > 0))
        value: FloatArray = np.where(known, np.interp(day, self.day, self.value), np.nan)
        return value


def water_series(tank: Tank) -> tuple[WaterSeries, ...]:
    """Return the WaterSeries of a tank that are measured often enough; one query."""
    events = WaterEvent.objects.present().filter(tank=tank, value__isnull=False)
    rows: dict[str, dict[int, list[float]]] = {}
    for kind, value, unit, text, moment in events.values_list(
        "kind", "value", "unit", "text", "happened_at"
    ):
        measured = measured_value(kind, value=value, unit=unit, text=text)
        # Of a probe's day the mean stands for it.
        if measured is None or text in (LOWEST, HIGHEST):
            continue
        day = moment.astimezone(tank.zone).date().toordinal()
        rows.setdefault(measured.words, {}).setdefault(day, []).append(measured.value)
    return tuple(
        WaterSeries(
            words,
            np.array(sorted(days), float),
            np.array([np.mean(days[day]) for day in sorted(days)]),
        )
        for words, days in sorted(rows.items())
        if len(days) >= DAYS_MIN
    )


def water_columns(series: Sequence[WaterSeries], days: Sequence[dt.date]) -> FloatArray:
    """Return each value and its change over TREND_DAYS on dates (n,), (n, 2 per series)."""
    day = np.array([date.toordinal() for date in days], float)
    columns: list[FloatArray] = []
    for one in series:
        now = one.on(day)
        columns += [now, now - one.on(day - TREND_DAYS)]
    return np.column_stack(columns) if columns else np.zeros((len(day), 0))
