"""What the water log has before a trouble: what could have hurt, and values out of range."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from apps.corals.models import WaterEvent
from apps.corals.water.measured import measured_value
from apps.outcomes.association.competing_causes import SHOWS_DAYS
from apps.outcomes.case.case_facts import Logged
from apps.tanks.models import Tank

# What reef tanks are usually kept at. Typical of the trade, no published source.
USUAL = {
    "temperature [°C]": (23.0, 28.0),
    "salinity [ppt]": (32.0, 37.0),
    "alkalinity [dKH]": (6.5, 12.0),
    "calcium [mg/L]": (350.0, 500.0),
    "pH": (7.7, 8.6),
    "nitrate [mg/L]": (0.0, 50.0),
    "phosphate [mg/L]": (0.0, 0.5),
}


@dataclass(frozen=True)
class WaterBefore:
    """The events of a tank in some time, oldest first, each with its day at the tank."""

    events: tuple[tuple[dt.date, WaterEvent], ...]

    def harmful(self, day: dt.date) -> tuple[Logged, ...]:
        """Return what the keeper logged as what could have hurt, in the two weeks up to a day."""
        return tuple(Logged(on, e.in_words()) for on, e in self.until(day) if e.could_hurt)

    def out_of_range(self, day: dt.date) -> Logged | None:
        """Return the value furthest out of its usual range in the two weeks up to a day, or None.

        How far is counted in widths of the range, so that values of different kinds compare.
        """
        beyond = [(by, on, e) for on, e in self.until(day) if (by := widths_beyond(e)) > 0]
        if not beyond:
            return None
        _, on, event = max(beyond, key=lambda row: row[:2])
        return Logged(on, f"{event.get_kind_display()} {event.amount()}".strip(), event.kind)

    def until(self, day: dt.date) -> Iterator[tuple[dt.date, WaterEvent]]:
        for on, event in self.events:
            if dt.timedelta(0) <= day - on <= dt.timedelta(days=SHOWS_DAYS):
                yield on, event


def water_before(tank: Tank, days: Iterable[dt.date]) -> WaterBefore:
    """Return the WaterBefore of a tank with the two weeks before each of `days`; one query."""
    days = list(days)
    if not days:
        return WaterBefore(())
    # A day more at either end, since the tank's day is not that of the clock in the database.
    start = dt.datetime.combine(min(days), dt.time.min, tzinfo=tank.zone)
    end = dt.datetime.combine(max(days), dt.time.min, tzinfo=tank.zone) + dt.timedelta(days=2)
    events = WaterEvent.objects.present().filter(
        tank=tank, happened_at__gte=start - dt.timedelta(days=SHOWS_DAYS + 1), happened_at__lt=end
    )
    rows = events.in_order()
    return WaterBefore(tuple((e.happened_at.astimezone(tank.zone).date(), e) for e in rows))


def widths_beyond(event: WaterEvent) -> float:
    """Return how far an event's value lies out of its usual range, in widths of the range [1].

    Zero within it, and where no value or no usual range is known.
    """
    if event.value is None:
        return 0.0
    measured = measured_value(event.kind, value=event.value, unit=event.unit, text=event.text)
    if measured is None or measured.words not in USUAL:
        return 0.0
    low, high = USUAL[measured.words]
    return max(low - measured.value, measured.value - high, 0.0) / (high - low)
