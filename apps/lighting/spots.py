"""Spots of a tank whose light is known, for pages of the light that stands below them.

The app that owns such spots registers a provider in its AppConfig.ready():

    register_spots(coral_spots)     # coral_spots(tank, moment) -> iterable of LitSpot
"""

from dataclasses import dataclass

_providers = []


@dataclass(frozen=True)
class LitSpot:
    """A named spot and its PAR where the day curve stands at full level, with 90 % interval."""

    name: str
    par_full_umol: float
    low_full_umol: float
    high_full_umol: float


def register_spots(provider):
    """Add provider(tank, moment), which returns LitSpots."""
    if provider not in _providers:
        _providers.append(provider)


def lit_spots(tank, moment):
    """Return the LitSpots of a tank at a moment, by name."""
    found = [spot for provider in _providers for spot in provider(tank, moment)]
    return tuple(sorted(found, key=lambda spot: spot.name.casefold()))
