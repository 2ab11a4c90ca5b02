"""Another time zone for a tank: what it can mean, what each meaning changes, and saving it."""

import datetime as dt
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from apps.common.registry import Registry
from apps.tanks.access import hold_tank
from apps.tanks.models import Tank
from apps.tanks.zones import zone_of

ASK = "Choose one: it decides what happens to your entries so far."
AHEAD = (
    "{count} entries would be in the future by that clock, so this can’t be what happened. Choose "
    "another answer."
)


class Means(models.TextChoices):
    MOVED = "moved", "The tank moved"
    CLOCK = "clock", "The zone was wrong; times were entered by the clock on the wall"
    MOMENT = "moment", "The zone was wrong; entries were made at the right moment"


@dataclass(frozen=True)
class ClockRows:
    """Rows of a tank that carry a moment, in the field so called."""

    rows: models.QuerySet
    field: str

    def moments(self) -> list[dt.datetime]:
        return list(self.rows.order_by().values_list(self.field, flat=True))


@dataclass(frozen=True)
class Rezoning:
    """One meaning of a new zone: the clock after it, and where each moment goes."""

    means: Means
    before: dt.tzinfo
    after: dt.tzinfo
    # Moments before it stay: the clock was another one then.
    since: dt.datetime | None

    def retimed(self, moment: dt.datetime) -> dt.datetime:
        """Return the moment that an entry has after it."""
        if self.means != Means.CLOCK or (self.since and moment < self.since):
            return moment
        return moment.astimezone(self.before).replace(tzinfo=self.after).astimezone(dt.UTC)

    def redates(self, moment: dt.datetime) -> bool:
        """Whether an entry gets another date."""
        before, after = moment.astimezone(self.before), self.retimed(moment).astimezone(self.after)
        return before.date() != after.date()


WHAT_BECOMES = {
    Means.CLOCK: "Entries keep the time they show; the true time of {retimed} changes.",
    Means.MOVED: "Entries before the move keep their date and time. New ones use the new clock.",
    Means.MOMENT: "Entries keep their true time and show it by the new clock.",
}


@dataclass(frozen=True)
class Effect:
    """What one meaning changes, counted before it is saved."""

    means: Means
    entries: int
    redated: int
    retimed: int
    day_lines: tuple[str, ...]

    @property
    def label(self):
        return self.means.label

    @property
    def words(self) -> str:
        """What becomes of the entries."""
        return WHAT_BECOMES[self.means].format(retimed=self.retimed)


# Rows that apps above date by the tank's clock: provider(tank) returns ClockRows.
CLOCK_ROWS: Registry[ClockRows] = Registry()
# What becomes of the day's light: provider(tank, rezoning) returns sentences.
DAY_LINES: Registry[str] = Registry()


def has_moments(tank: Tank) -> bool:
    """Whether anything was entered that a new zone could date anew."""
    return any(rows.rows.exists() for rows in CLOCK_ROWS.collect(tank))


def rezoning_of(tank: Tank, name: str, means: str, moved_at: dt.datetime | None) -> Rezoning:
    """Return what the zone `name` means for a stored tank."""
    means = Means(means)
    moves = moves_after(tank, means, moved_at)
    since = dt.datetime.fromisoformat(tank.earlier_zones[-1][0]) if tank.earlier_zones else None
    return Rezoning(means, tank.zone, zone_of(name, tuple(map(tuple, moves))), since)


def moves_after(tank: Tank, means: Means, moved_at: dt.datetime | None) -> list[list[str]]:
    """Return Tank.earlier_zones as it is after a change of zone."""
    if means != Means.MOVED:
        return tank.earlier_zones
    moment = (moved_at or timezone.now()).astimezone(dt.UTC)
    return [*tank.earlier_zones, [moment.isoformat(), tank.time_zone]]


def effect_of(tank: Tank, rezoning: Rezoning) -> Effect:
    """Count what a Rezoning changes of a stored tank."""
    moments = [moment for rows in CLOCK_ROWS.collect(tank) for moment in rows.moments()]
    return Effect(
        rezoning.means,
        entries=len(moments),
        redated=sum(map(rezoning.redates, moments)),
        retimed=sum(rezoning.retimed(moment) != moment for moment in moments),
        day_lines=tuple(DAY_LINES.collect(tank, rezoning)),
    )


def effects_of(tank: Tank, name: str, moved_at: dt.datetime | None) -> list[Effect]:
    """Count what each meaning of a new zone changes."""
    return [effect_of(tank, rezoning_of(tank, name, means, moved_at)) for means in Means]


def rezoning_errors(
    tank: Tank, name: str, means: str, moved_at: dt.datetime | None
) -> dict[str, str]:
    """Return {field: sentence} of what speaks against a change of a stored tank's zone."""
    if means == Means.MOVED and moved_at:
        if moved_at > timezone.now():
            return {"moved_at": "This is in the future. Change the zone once the tank has moved."}
        last = tank.earlier_zones[-1][0] if tank.earlier_zones else None
        if last and moved_at <= dt.datetime.fromisoformat(last):
            return {"moved_at": "The tank moved once more after that."}
    if means == Means.CLOCK:
        rezoning, now = rezoning_of(tank, name, means, None), timezone.now()
        moments = [moment for rows in CLOCK_ROWS.collect(tank) for moment in rows.moments()]
        ahead = sum(rezoning.retimed(m) > max(now, m) for m in moments)
        if ahead:
            return {"zone_means": AHEAD.format(count=ahead)}
    return {}


@transaction.atomic
def rezone(*, tank: Tank, name: str, means: str, moved_at: dt.datetime | None = None) -> None:
    """Give a stored tank another time zone and its entries the moments that this means."""
    # Two at once would move the entries twice.
    tank = hold_tank(tank.pk)
    if errors := rezoning_errors(tank, name, means, moved_at):
        raise ValidationError(errors)
    rezoning = rezoning_of(tank, name, means, moved_at)
    if rezoning.means == Means.CLOCK:
        for rows in CLOCK_ROWS.collect(tank):
            changed = list(rows.rows)
            for row in changed:
                setattr(row, rows.field, rezoning.retimed(getattr(row, rows.field)))
            rows.rows.model._base_manager.bulk_update(changed, [rows.field], batch_size=500)
    tank.earlier_zones = moves_after(tank, rezoning.means, moved_at)
    tank.time_zone = name
    tank.save(update_fields=["earlier_zones", "time_zone"])
