"""When a tank's light was surveyed, as the apps above know it."""

import datetime as dt

from apps.common.registry import Registry
from apps.tanks.models import Tank

# provider(tank) returns the moments of the tank's surveys.
SURVEY_MOMENTS: Registry[dt.datetime] = Registry()


def surveyed_at(tank: Tank) -> list[dt.datetime]:
    """Return the moments at which a tank's light was surveyed, the oldest first."""
    return sorted(SURVEY_MOMENTS.collect(tank))
