"""Starting a day curve: the light change it begins with, and the curves that run on beside it."""

from django.db import transaction

from apps.lighting.day_models import RunningCurve
from apps.lighting.models import LightChange

COPIED = ("name", "zone", "group", "share_percent", "is_moonlight", "points")


@transaction.atomic
def start_day_curve(*, curve, happened_at, created_by):
    """Save and return the LightChange from which a DayCurve runs in its zone and group.

    A change carries the whole state, so the other curves in force then are copied with it. A
    curve of all channels ends those of single groups in its zone, and the other way round;
    moonlight burns beside any of them.
    """
    change = LightChange(
        tank=curve.tank,
        happened_at=happened_at,
        reason=LightChange.Reason.HOURS,
        summary=f"Day curve “{curve.name}”",
        created_by=created_by,
    )
    change.full_clean()
    beside = [row for row in curves_in_force(curve.tank, happened_at) if not in_the_way(row, curve)]
    change.save()
    new = RunningCurve(source=curve, **{name: getattr(curve, name) for name in COPIED})
    for row in [*beside, new]:
        row.pk, row.change = None, change
        row.full_clean()
        row.save()
    return change


def in_the_way(running, curve):
    """Return whether a RunningCurve must stop when a DayCurve starts."""
    if running.zone != curve.zone:
        return False
    if running.group == curve.group:
        return True
    either_is_all = not running.group or not curve.group
    return either_is_all and not running.is_moonlight and not curve.is_moonlight


def curves_in_force(tank, moment):
    """Return the RunningCurves of a tank at a moment; [] where only hours were told."""
    changes = tank.light_changes.present().in_order().filter(happened_at__lte=moment)
    for change in reversed(changes.prefetch_related("days")):
        if days := list(change.days.all()):
            return days
        if change.day_hours is not None:
            return []
    return []
