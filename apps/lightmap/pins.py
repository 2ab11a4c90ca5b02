"""What stands in a tank and wants to be seen on its light map.

The map lies below the apps whose things it shows: they add to PINS a provider(tank, day) that
returns Pins.
"""

import datetime as dt
from dataclasses import dataclass, replace

from apps.common.registry import Registry
from apps.photics.ground.usual_bands import band_umol
from apps.tanks.models import Tank

BELOW, WITHIN, ABOVE, UNKNOWN = "below", "within", "above", "unknown"


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
    # The group whose usual band that is, "" for a band of its own.
    usual_of: str = ""

    def at_hours(self, full_hours: float) -> "Pin":
        """Return the same thing under a day of other full hours [h]."""
        if not self.usual_of:
            return self
        low, high = band_umol(self.usual_of, full_hours=full_hours)
        return replace(self, band_low_umol=low, band_high_umol=high)


PINS: Registry[Pin] = Registry()


@dataclass(frozen=True)
class BandState:
    """How a light lies against a band: `key` chooses the shape, `words` say it."""

    key: str
    words: str

    @property
    def short(self) -> str:
        """The words under a heading that already speaks of the band."""
        return self.words.removesuffix(" its band")


def state_in_band(
    light: tuple[float, float, float] | None,
    band_low_umol: float | None,
    band_high_umol: float | None,
) -> BandState:
    """Return the BandState of (PAR, low, high): "probably" when the interval crosses an end.

    `light` is None where it is not known, the band's ends where there is no band.
    """
    if light is None or band_low_umol is None or band_high_umol is None:
        return BandState(UNKNOWN, "light unknown" if light is None else "no band")
    par, low, high = light
    if par < band_low_umol:
        key, sure = BELOW, high < band_low_umol
    elif par > band_high_umol:
        key, sure = ABOVE, low > band_high_umol
    else:
        key, sure = WITHIN, low >= band_low_umol and high <= band_high_umol
    return BandState(key, f"{key} its band" if sure else f"probably {key} its band")


def pins_for(tank: Tank, on: dt.date | None = None) -> tuple[Pin, ...]:
    """Return all pins of a tank in order of name, then place: their number on the map.

    They stand as they do today, or as they did on a day.
    """
    result = PINS.collect(tank, on or tank.today())
    return tuple(sorted(result, key=lambda p: (p.name.casefold(), p.x_cm, p.y_cm, p.depth_cm)))
