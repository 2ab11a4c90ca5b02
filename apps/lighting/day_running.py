"""Starting a day curve: the light change it begins with."""

from django.db import transaction

from apps.lighting.day_models import RunningCurve
from apps.lighting.models import LightChange

COPIED = ("name", "zone", "group", "share_percent", "is_moonlight", "points")


@transaction.atomic
def start_day_curve(*, curve, happened_at, created_by):
    """Save and return the LightChange from which a DayCurve runs in its zone and group.

    Which other curves run on beside it, the history says: `Running.must_stop_for`.
    """
    change = LightChange(
        tank=curve.tank,
        happened_at=happened_at,
        reason=LightChange.Reason.HOURS,
        summary=f"Day curve “{curve.name}”",
        created_by=created_by,
    )
    change.full_clean()
    change.save()
    row = RunningCurve(
        change=change, source=curve, **{name: getattr(curve, name) for name in COPIED}
    )
    row.full_clean()
    row.save()
    return change
