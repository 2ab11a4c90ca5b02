"""The usual zones of a reef tank, by its own measures, and their bands by daily light.

A band is told as daily light [mol m-2 d-1] and becomes PAR by the hours of full light of the tank's
day. Typical of the trade, no published source, where and how bright corals are kept.
"""

from dataclasses import dataclass

from apps.photics.ground.dose import MOL_PER_UMOL_HOUR
from apps.photics.ground.scene import Tank
from apps.photics.layout.question import Zone

# Daily light corals of a group are kept in [mol m-2 d-1]: typical of the trade, from memory, no
# published source.
USUAL_DLI_MOL = {"soft": (2.0, 6.0), "lps": (3.0, 7.0), "sps": (7.0, 14.0)}
# Hours of full light a day where nobody says [h]: typical of the trade, from memory.
USUAL_DAY_HOURS = 9.0
# How much an SPS zone counts against a low one [1]: chosen, because what lives there has no other
# place, while corals of a low zone can be moved into the shade.
SPS_WEIGHT = 2.0


@dataclass(frozen=True)
class UsualZone:
    """A zone as shares of the box [1], and the group whose daily light it takes.

    `margin_x` and `margin_y` are left free at each end; `depth` from and to below the surface.
    """

    name: str
    group: str  # one of USUAL_DLI_MOL
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
SPS_HIGH = UsualZone("SPS high on the rock", "sps", 0.15, 0.25, (0.2, 0.45), SPS_WEIGHT, False)
# Chosen so, because rock widens downward.
LOW_ROCK = UsualZone("LPS and soft, low", "lps", 0.08, 0.1, (0.55, 0.8))
# Chosen so, because sand reaches nearly to the panes.
SAND = UsualZone("Sand bed", "soft", 0.05, 0.08, (0.85, 0.97))
# All of them, brightest first: our own choice.
USUAL_ZONES = {"sps": SPS_HIGH, "low": LOW_ROCK, "sand": SAND}


def band_umol(group: str, *, full_hours: float) -> tuple[float, float]:
    """Return the PAR band of a group of corals under a day's full hours [umol m-2 s-1].

    `group` one of USUAL_DLI_MOL; `full_hours` above 0, to 24 [h]. By the definition of the daily
    light integral (`ground.dose`).

    >>> band_umol("sps", full_hours=9.0)
    (216.0, 432.0)
    """
    low, high = (round(mol / (full_hours * MOL_PER_UMOL_HOUR), 0) for mol in USUAL_DLI_MOL[group])
    return low, high


def inset(margin: float, side_cm: float) -> tuple[float, float]:
    """Return the ends of a side [cm] that leaves a `margin` of it [1] free at both."""
    return round(margin * side_cm, 1), round((1.0 - margin) * side_cm, 1)


def usual_zones(tank: Tank, *, full_hours: float = USUAL_DAY_HOURS) -> tuple[Zone, ...]:
    """Return the usual Zones of a tank of any measures, lit for so many full hours a day [h]."""
    return tuple(kind.zone(tank, full_hours=full_hours) for kind in USUAL_ZONES.values())
