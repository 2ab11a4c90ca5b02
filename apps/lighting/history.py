"""Which light was on when: a tank's changes read once, then asked for any moment."""

import math
from dataclasses import dataclass
from datetime import datetime

from apps.photics import scene
from apps.photics.dose import ramped_day_hours


@dataclass(frozen=True)
class DaySchedule:
    """How long the lights burn: first to last light, and the ramp at each end [h]."""

    day_hours: float
    ramp_hours: float

    @property
    def full_hours(self):
        """Hours of full light the day is worth [h]."""
        return ramped_day_hours(day_hours=self.day_hours, ramp_hours=self.ramp_hours)


@dataclass(frozen=True)
class Change:
    """A light change as the history needs it."""

    pk: int
    happened_at: datetime
    summary: str
    factor: float
    schedule: DaySchedule | None
    rig: tuple[scene.Fixture, ...]


@dataclass(frozen=True)
class LightHistory:
    """All changes of one tank in order of time."""

    changes: tuple[Change, ...]

    def between(self, start, end):
        """Return the changes with start < when <= end."""
        return tuple(c for c in self.changes if start < c.happened_at <= end)

    def factor_between(self, start, end):
        """Return light at `end` for 1 at `start` [1]; `end` may be the earlier of the two."""
        if end < start:
            return 1.0 / self.factor_between(end, start)
        return math.prod(c.factor for c in self.between(start, end))

    def schedule_at(self, moment):
        """Return the day schedule in force, or None before the keeper told one.

        A change without hours leaves the schedule before it in force.
        """
        told = [c.schedule for c in self.changes if c.happened_at <= moment and c.schedule]
        return told[-1] if told else None

    def rig_at(self, moment):
        """Return the fixtures that hung then; none before the keeper described them."""
        told = [c.rig for c in self.changes if c.happened_at <= moment and c.rig]
        return told[-1] if told else ()


def light_history(tank):
    """Return the LightHistory of a tank; three queries however long it is."""
    return LightHistory(
        tuple(
            Change(
                pk=row.pk,
                happened_at=row.happened_at,
                summary=row.summary,
                factor=row.factor,
                schedule=None
                if row.day_hours is None
                else DaySchedule(row.day_hours, row.ramp_hours),
                rig=tuple(hung.scene() for hung in row.hung.all()),
            )
            for row in tank.light_changes.present().in_order().prefetch_related("hung__fixture")
        )
    )
