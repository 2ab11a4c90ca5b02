"""What of the light can be deleted and restored."""

from django.urls import reverse
from django.utils import timezone

from apps.lighting.day_models import DayCurve
from apps.lighting.fixture_models import Fixture
from apps.lighting.hanging import restore_light_change
from apps.lighting.models import LightChange
from apps.tanks.removable_kinds import RemovableKind


def change_words(change: LightChange) -> str:
    day = timezone.localdate(change.happened_at, timezone=change.tank.zone)
    return f"{change.title}, {day:%-d %b %Y}"


KINDS = (
    RemovableKind(
        key="light-change",
        model=LightChange,
        noun="light change",
        plural="light changes",
        tank="tank",
        words=change_words,
        page=lambda change: reverse("light_change_list", args=[change.tank_id]),
        restore=lambda change: restore_light_change(change=change),
    ),
    RemovableKind(
        key="day-curve",
        model=DayCurve,
        noun="day curve",
        plural="day curves",
        tank="tank",
        words=lambda row: row.name,
        page=lambda row: reverse("day_curve_list", args=[row.tank_id]),
    ),
    RemovableKind(
        key="fixture",
        model=Fixture,
        noun="fixture",
        plural="fixtures",
        owner="owner",
        words=lambda fixture: fixture.name,
        page=lambda fixture: reverse("fixture_list"),
    ),
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
