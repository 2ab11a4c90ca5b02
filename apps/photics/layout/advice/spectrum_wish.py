"""How to mix a fixture's channels for a wished colour, with the most light that leaves.

Linear in the channels' levels: the proportions of a mix are those of its channels weighed by their
light, so a bound on a proportion is a linear bound on levels. Spectra are models (`spectrum.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from apps.photics.day.spectrum import Channel, PhotonProportions

# Less than this proportion of a fixture's light is no light [1]: our own choice.
LEFT_MIN = 1e-3


@dataclass(frozen=True)
class SpectrumWish:
    """Wanted proportions of the PAR photons, each the lowest and the highest [1]."""

    blue: tuple[float, float] = (0.0, 1.0)
    green: tuple[float, float] = (0.0, 1.0)
    red: tuple[float, float] = (0.0, 1.0)

    def __post_init__(self) -> None:
        pairs = (self.blue, self.green, self.red)
        if not all(0.0 <= low <= high <= 1.0 for low, high in pairs):
            raise ValueError("A proportion lies between 0 and 1, its lowest below its highest.")
        lows, highs = (sum(pair[k] for pair in pairs) for k in (0, 1))
        if lows > 1.0 + 1e-9 or highs < 1.0 - 1e-9:
            raise ValueError("Blue, green and red together are the whole light.")


@dataclass(frozen=True)
class ColourMix:
    """Levels of the channels, 0 to 1 [1], what they leave of the full light [1], its colours."""

    levels: tuple[float, ...]
    left: float
    proportions: PhotonProportions


def colour_mix(
    channels: Sequence[Channel], weights: Sequence[float], wish: SpectrumWish
) -> ColourMix | None:
    """Return the ColourMix with the most light within a wish; None where no mix has it.

    `weights` are the channels' parts of the fixture's PAR at full level [1], any scale above zero.
    """
    part = np.asarray(weights, float) / np.sum(weights)
    colours = np.array([channel.spectrum.proportions for channel in channels])
    bounds = []
    for band, (low, high) in enumerate((wish.blue, wish.green, wish.red)):
        bounds += [part * (low - colours[:, band]), part * (colours[:, band] - high)]
    solved = linprog(-part, A_ub=np.array(bounds), b_ub=np.zeros(len(bounds)), bounds=(0.0, 1.0))
    # No light at all is within every bound, so there is a solution.
    assert solved.x is not None
    left = float(part @ solved.x)
    if left < LEFT_MIN:
        return None
    mixed = PhotonProportions(*(float(c) for c in (part * solved.x) @ colours / left))
    return ColourMix(tuple(float(level) for level in solved.x), left, mixed)
