"""Spots of a tank whose light is known, for pages of the light that stands below them.

The app that owns such spots adds to LIT_SPOTS a provider(tank, moment) that returns LitSpots.
"""

import datetime as dt
from dataclasses import dataclass

from apps.common.registry import Registry
from apps.tanks.models import Tank


@dataclass(frozen=True)
class LitSpot:
    """A named spot and its PAR where the day curve stands at full level, with 90 % interval."""

    name: str
    par_full_umol: float
    low_full_umol: float
    high_full_umol: float


LIT_SPOTS: Registry[LitSpot] = Registry()


def lit_spots(tank: Tank, moment: dt.datetime) -> tuple[LitSpot, ...]:
    """Return the LitSpots of a tank at a moment, by name."""
    result = LIT_SPOTS.collect(tank, moment)
    return tuple(sorted(result, key=lambda spot: spot.name.casefold()))
