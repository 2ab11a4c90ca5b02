"""What of the light can be deleted and restored."""

from django.urls import reverse
from django.utils import timezone

from apps.lighting.day_models import DayCurve
from apps.lighting.fixture_models import Fixture
from apps.lighting.hanging import remove_light_change, restore_light_change
from apps.lighting.models import LightChange
from apps.tanks.removable_kinds import RemovableKind


def change_words(change: LightChange) -> str:
    day = timezone.localdate(change.happened_at, timezone=change.tank.zone)
    return f"{change.title}, {day:%-d %b %Y}"


LIGHT_CHANGE = RemovableKind(
    key="light-change",
    model=LightChange,
    noun="light change",
    plural="light changes",
    tank="tank",
    words=change_words,
    page=lambda change: reverse("light_change_list", args=[change.tank_id]),
    restore=lambda change: restore_light_change(change=change),
    at="light/<int:pk>/",
    name="light_change",
    called=lambda change: f"“{change.title}”",
    remove=lambda change: remove_light_change(change=change),
)
DAY_CURVE = RemovableKind(
    key="day-curve",
    model=DayCurve,
    noun="day schedule",
    plural="day schedules",
    tank="tank",
    words=lambda row: row.name,
    page=lambda row: reverse("day_curve_list", args=[row.tank_id]),
    at="days/<int:pk>/",
    name="day_curve",
    called=lambda row: f"“{row.name}”",
    remark="Where it ran, the log keeps it.",
)
FIXTURE = RemovableKind(
    key="fixture",
    model=Fixture,
    noun="lamp",
    plural="lamps",
    owner="owner",
    words=lambda fixture: fixture.name,
    page=lambda fixture: reverse("fixture_list"),
    at="fixtures/<int:pk>/",
    name="fixture",
    remark="Tanks that use it keep it.",
)
KINDS = (
    LIGHT_CHANGE,
    DAY_CURVE,
    FIXTURE,
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
