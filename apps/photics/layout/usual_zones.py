"""The usual zones of a reef tank, by its own measures.

Their bands are those of `ground.usual_bands`. Where corals are kept is typical of the trade, no
published source.
"""

from dataclasses import dataclass

from apps.photics.ground.scene import Tank
from apps.photics.ground.usual_bands import LPS, SOFT, SPS, USUAL_DAY_HOURS, band_umol
from apps.photics.layout.question import Zone

# How much an SPS zone counts against a low one [1]: chosen, because what lives there has no other
# place, while corals of a low zone can be moved into the shade.
SPS_WEIGHT = 2.0


@dataclass(frozen=True)
class UsualZone:
    """A zone as shares of the box [1], and the group whose daily light it takes.

    `margin_x` and `margin_y` are left free at each end; `depth` from and to below the surface.
    """

    name: str
    group: str  # of `ground.usual_bands`
    margin_x: float
    margin_y: float
    depth: tuple[float, float]
    weight: float = 1.0
    high_is_soft: bool = True

    def zone(self, tank: Tank, *, full_hours: float = USUAL_DAY_HOURS) -> Zone:
        """Return the Zone of this kind in a tank lit for so many full hours a day [h]."""
        low, high = band_umol(self.group, full_hours=full_hours)
        return Zone(
            name=self.name,
            x_cm=inset(self.margin_x, tank.length_cm),
            y_cm=inset(self.margin_y, tank.width_cm),
            depth_cm=(round(self.depth[0] * tank.depth_cm, 1),
                      round(self.depth[1] * tank.depth_cm, 1)),
            low_umol=low,
            high_umol=high,
            weight=self.weight,
            high_is_soft=self.high_is_soft,
        )  # fmt: skip


# Where they lie, rock standing free of the panes, as shares of the box [1]: from memory as well.
SPS_HIGH = UsualZone("SPS high on the rock", SPS, 0.15, 0.25, (0.2, 0.45), SPS_WEIGHT, False)
# Chosen so, because rock widens downward.
LOW_ROCK = UsualZone("LPS and soft, low", LPS, 0.08, 0.1, (0.55, 0.8))
# Chosen so, because sand reaches nearly to the panes.
SAND = UsualZone("Sand bed", SOFT, 0.05, 0.08, (0.85, 0.97))
# All of them, brightest first: our own choice.
USUAL_ZONES = {"sps": SPS_HIGH, "low": LOW_ROCK, "sand": SAND}


def inset(margin: float, side_cm: float) -> tuple[float, float]:
    """Return the ends of a side [cm] that leaves a `margin` of it [1] free at both."""
    return round(margin * side_cm, 1), round((1.0 - margin) * side_cm, 1)


def usual_zones(tank: Tank, *, full_hours: float = USUAL_DAY_HOURS) -> tuple[Zone, ...]:
    """Return the usual Zones of a tank of any measures, lit for so many full hours a day [h]."""
    return tuple(kind.zone(tank, full_hours=full_hours) for kind in USUAL_ZONES.values())
