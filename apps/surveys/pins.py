"""What stands in a tank and wants to be seen on its light map.

The map lies below the apps whose things it shows. Such an app registers a provider in its
AppConfig.ready(); the map calls every provider and draws what comes back:

    from apps.surveys.pins import register
    register("corals", coral_pins)      # coral_pins(tank) -> iterable of Pin
"""

from dataclasses import dataclass

_providers = {}


@dataclass(frozen=True)
class Pin:
    """One thing at one point of the water [cm], and the PAR it should have [umol m-2 s-1]."""

    name: str
    x_cm: float
    y_cm: float
    depth_cm: float
    # A few words behind the name, such as its kind.
    words: str = ""
    # Its own page, for readers who may open it.
    url: str = ""
    band_low_umol: float | None = None
    band_high_umol: float | None = None

    def state(self, par_umol):
        """Return "below", "within" or "above" its band, or "unknown" without one."""
        if self.band_low_umol is None or self.band_high_umol is None:
            return "unknown"
        if par_umol < self.band_low_umol:
            return "below"
        return "above" if par_umol > self.band_high_umol else "within"


def register(name, provider):
    """Add or replace the provider of that name: provider(tank) returns an iterable of Pin."""
    _providers[name] = provider


def unregister(name):
    """Take a provider away; unknown names are fine."""
    _providers.pop(name, None)


def pins_for(tank):
    """Return all pins of a tank in order of name, then place: their number on the map."""
    found = [pin for provider in _providers.values() for pin in provider(tank)]
    return tuple(sorted(found, key=lambda p: (p.name.casefold(), p.x_cm, p.y_cm, p.depth_cm)))
