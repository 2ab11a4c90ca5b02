"""What of meters can be deleted and restored, by whoever looks after them."""

from apps.common.removal import Removable
from apps.surveys.meters.following import follow
from apps.surveys.meters.meter_page import page_of_meter
from apps.surveys.models import Meter, MeterCheck
from apps.tanks.removable_kinds import RemovableKind

METER = RemovableKind(
    key="meter",
    model=Meter,
    noun="meter",
    plural="meters",
    owner="owner",
    kept_by=Meter.objects.kept_by,
    # A survey says what it was measured with, long after the meter left the list.
    kept_for="surveys",
    words=lambda meter: meter.label,
    page=page_of_meter,
    at="meters/<int:meter_pk>/",
    name="meter",
)
METER_CHECK = RemovableKind(
    key="meter-check",
    model=MeterCheck,
    noun="check of a meter",
    plural="checks of meters",
    owner="meter__owner",
    kept_by=lambda user: MeterCheck.objects.filter(meter__in=Meter.objects.kept_by(user)),
    within=("meter",),
    words=lambda check: f"{check.meter} against {check.against}, {check.checked_on:%-d %b %Y}",
    page=lambda check: page_of_meter(check.meter),
    remove=lambda check: follow(meter=check.meter, change=lambda: Removable.remove(check)),
    restore=lambda check: follow(meter=check.meter, change=lambda: Removable.restore(check)),
    at="meters/checks/<int:check_pk>/",
    name="meter_check",
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this room adds to the list of what can be deleted."""
    return METER, METER_CHECK
