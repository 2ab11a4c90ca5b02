"""Usual zones of a reef tank to start a question from. Common practice, no published source."""

from dataclasses import dataclass

from apps.corals.models import USUAL_BANDS, Coral
from apps.photics.layout.question import Zone
from apps.tanks.models import Tank


@dataclass(frozen=True)
class ZonePreset:
    """A zone as shares of the box, and the group of corals whose usual band it takes."""

    name: str
    group: str  # a value of Coral.Group
    margin_x: float
    margin_y: float
    depth: tuple[float, float]

    def zone(self, *, length_cm: float, width_cm: float, depth_cm: float) -> Zone:
        """Return the Zone in a box of these measures [cm]."""
        low, high = USUAL_BANDS[self.group]
        return Zone(
            name=self.name,
            x_cm=(round(self.margin_x * length_cm, 1), round((1 - self.margin_x) * length_cm, 1)),
            y_cm=(round(self.margin_y * width_cm, 1), round((1 - self.margin_y) * width_cm, 1)),
            depth_cm=(round(self.depth[0] * depth_cm, 1), round(self.depth[1] * depth_cm, 1)),
            low_umol=low,
            high_umol=high,
        )


SPS_ROCK = ZonePreset("SPS high on the rock", "sps", 0.15, 0.25, (0.2, 0.45))
LOW_ROCK = ZonePreset("LPS and soft, low", "lps", 0.08, 0.1, (0.55, 0.8))
SAND = ZonePreset("Sand bed", "soft", 0.05, 0.08, (0.85, 0.97))
PRESETS = {"sps": SPS_ROCK, "low": LOW_ROCK, "sand": SAND}


def presets_for(tank: Tank | None) -> list[ZonePreset]:
    """Return the presets for what lives in a tank; all of them where nothing is known."""
    groups = set()
    if tank is not None:
        groups = set(tank.corals.present().living().values_list("group", flat=True))
    if not groups:
        return list(PRESETS.values())
    wanted = []
    if Coral.Group.SPS in groups:
        wanted.append(SPS_ROCK)
    if groups - {Coral.Group.SPS}:
        wanted.append(LOW_ROCK)
    return wanted
