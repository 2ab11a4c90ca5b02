"""What of logged light can be deleted and restored: its pages stand here, its rows in surveys."""

from django.urls import reverse

from apps.surveys.models import LoggedSeries
from apps.tanks.removable_kinds import RemovableKind

LOGGER_SERIES = RemovableKind(
    key="logger-series",
    model=LoggedSeries,
    noun="logger series",
    plural="logger series",
    tank="tank",
    words=lambda series: series.label,
    page=lambda series: reverse("log_list", args=[series.tank_id]),
    at="logger/<int:log_pk>/",
    name="log",
    called=lambda series: f"“{series}”",
    undone=lambda series: reverse("log_detail", args=[series.pk]),
)
KINDS = (LOGGER_SERIES,)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
