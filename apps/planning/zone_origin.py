"""What a zone of a plan was made of: what lives there, parts of the box, daily light."""

from dataclasses import dataclass

# Parts of the box along x, y and depth, from and to, six numbers [1].
Parts = tuple[float, ...]
PARTS = 6


@dataclass(frozen=True)
class ZoneOrigin:
    """What a zone was made of; nothing of it is known of zones of before."""

    lives: str = ""  # the key of a Wish
    parts: Parts | None = None  # None once somebody moved it
    dli_mol: tuple[float, float] | None = None  # None where the band was given as PAR
