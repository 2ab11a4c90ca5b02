"""Mixing the channels of a fixture: the same PAR in another colour, its yield, what is usual."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from apps.photics.day.spectrum import PhotonProportions
from apps.photics.ground.arrays import ArrayLike, FloatArray

# Proportions of PAR photons that reef mixes commonly keep within: blue 400-500 nm, green 500-600
# nm, red 600-700 nm. Common practice, no published source; the bounds are from memory.
USUAL_PROPORTIONS = {"blue": (0.40, 0.95), "green": (0.0, 0.45), "red": (0.0, 0.15)}
# Chosen, because a level or a PAR this near another differs by rounding alone.
CLOSE = 1e-9


class Limit(StrEnum):
    """What cuts a wish for another mix short."""

    OTHERS_FULL = "others_full"
    ALL_PAR = "all_par"
    FULL_LEVEL = "full_level"
    ALL_OFF = "all_off"


@dataclass(frozen=True)
class Mix:
    """Levels (n,) of all channels [1], the PAR they give, and where cut short by what, in words."""

    levels: tuple[float, ...]
    par_umol: float
    limit: Limit | None = None
    words: str = ""


def par_of(levels: ArrayLike, full_par_umol: ArrayLike) -> float:
    """Return the PAR of a mix [umol m-2 s-1].

    `levels` (n,) of the channels, 0 to 1 [1]; `full_par_umol` (n,) what each gives at full level
    [umol m-2 s-1]. For channels whose light goes with their level.
    """
    return float(np.dot(levels, full_par_umol))


def moved(
    levels: ArrayLike, full_par_umol: ArrayLike, names: Sequence[str], *, index: int, level: float
) -> Mix:
    """Return the Mix with one channel moved and the others scaled so that PAR stays.

    `levels` (n,) now [1]; `full_par_umol` (n,) PAR of each channel at full level at the corals
    [umol m-2 s-1]; `names` (n,) for the words; the channel `index` is to go to `level` [1]. The
    others keep their ratios. Where they would pass full light or fall below none, the channel stops
    earlier and the words say so.

    >>> moved((0.5, 0.5), (200, 100), ("blue", "white"), index=1, level=0.0).levels
    (0.75, 0.0)
    """
    now, full = checked(levels, full_par_umol)
    total = par_of(now, full)
    others = np.delete(now, index)
    given = total - now[index] * full[index]
    least, most = 0.0, 1.0
    # A channel that adds next to no PAR may stand anywhere.
    if full[index] > CLOSE:
        most = min(1.0, total / full[index])
        # A channel that is off stays off, so others that give nothing cannot make up for it.
        growth = 1 / others.max() if given > CLOSE else 1.0
        least = max(0.0, (total - given * growth) / full[index])
    reached = float(np.clip(level, least, most))
    factor = (total - reached * full[index]) / given if given > CLOSE else 1.0
    mix = now * factor
    mix[index] = reached
    limit, words = None, ""
    if level < least - CLOSE:
        limit = Limit.OTHERS_FULL
        words = f"{names[index]} stops at {100 * least:.0f} %: nothing else can make up for it."
    elif level > most + CLOSE:
        limit = Limit.ALL_PAR
        words = f"{names[index]} stops at {100 * most:.0f} %: it then gives all of the PAR."
    # The factor may pass full light by a rounding error.
    return Mix(tuple(np.clip(mix, 0, 1).tolist()), total, limit, words)


def scaled_to_par(levels: ArrayLike, full_par_umol: ArrayLike, *, wanted_umol: float) -> Mix:
    """Return the Mix of the same colour that gives `wanted_umol`, as near as full light allows.

    `levels` (n,) now, 0 to 1 [1]; `full_par_umol` (n,) PAR of each channel at full level and
    `wanted_umol` of the mix, zero or more [umol m-2 s-1]. Raises ValueError for a dark mix.

    >>> scaled_to_par((0.5, 0.25), (200, 100), wanted_umol=500).words
    'The brightest channel is at full level and the mix gives 250 of the 500 wanted.'
    """
    now, full = checked(levels, full_par_umol)
    total = par_of(now, full)
    if not total > 0 or not wanted_umol >= 0:
        raise ValueError("A mix that gives no light cannot be scaled.")
    factor = wanted_umol / total
    limit, words = None, ""
    if factor * now.max() > 1 + CLOSE:
        limit, factor = Limit.FULL_LEVEL, 1 / now.max()
        words = (
            "The brightest channel is at full level and the mix gives "
            f"{factor * total:.0f} of the {wanted_umol:.0f} wanted."
        )
    mix = np.clip(now * factor, 0, 1)
    return Mix(tuple(mix.tolist()), par_of(mix, full), limit, words)


def checked(levels: ArrayLike, full_par_umol: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return `levels` [1] and `full_par_umol` as arrays (n,); ValueError for what no mix can be."""
    now, full = np.array(levels, float), np.array(full_par_umol, float)
    if now.shape != full.shape or now.ndim != 1 or not len(now):
        raise ValueError("Every channel needs a level and its PAR at full level.")
    if not (np.all((now >= 0) & (now <= 1)) and np.all(full >= 0) and np.isfinite(full).all()):
        raise ValueError("Levels are 0 to 1, and PAR is zero or more.")
    return now, full


def par_per_watt(levels: ArrayLike, ppf_umol_s: ArrayLike, watts: ArrayLike) -> float | None:
    """Return the yield of a mix [umol/J]: photons for the electricity, None when all is off.

    `levels` (n,) 0 to 1 [1]; `ppf_umol_s` [umol/s] and `watts` [W] (n,) of each channel at full
    level. Dimming is taken to lower both
    alike; drivers do a little worse at low levels.

    >>> par_per_watt((1, 0.5), (60, 40), (20, 20))
    2.6666666666666665
    """
    power = float(np.dot(levels, watts))
    return float(np.dot(levels, ppf_umol_s)) / power if power > 0 else None


def unusual(proportions: PhotonProportions) -> tuple[str, ...]:
    """Return plain sentences where `proportions` leave what reef mixes commonly keep; none within.

    >>> unusual(PhotonProportions(0.7, 0.2, 0.1))
    ()
    """
    return tuple(
        f"{color.capitalize()} light is {100 * part:.0f} % of the photons; reef mixes usually "
        f"keep it {bounds(low, high)}."
        for (color, (low, high)), part in zip(USUAL_PROPORTIONS.items(), proportions, strict=True)
        if not low <= part <= high
    )


def bounds(low: float, high: float) -> str:
    """Return usual proportions in words, from `low` to `high` [1]."""
    if low == 0:
        return f"at or below {100 * high:.0f} %"
    return f"between {100 * low:.0f} and {100 * high:.0f} %"
