"""The water log, where its tank gets another time zone."""

from apps.corals.models import WaterEvent
from apps.tanks.models import Tank
from apps.tanks.rezoning import ClockRows


def water_event_moments(tank: Tank) -> list[ClockRows]:
    """Return a tank's water entries by when they happened, deleted ones too."""
    return [ClockRows(WaterEvent.objects.filter(tank=tank), "happened_at")]
