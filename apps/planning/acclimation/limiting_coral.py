"""Which coral leads a whole-tank acclimation: the one that goes furthest from what it knows."""

from dataclasses import dataclass

from apps.corals.models import Coral, Spot
from apps.corals.status import spot_lights
from apps.planning.acclimation.acclimated_light import acclimated_par

# Ratios nearer than this are the same [1]: rounding must not choose who leads.
SAME_RATIO = 1e-6


@dataclass(frozen=True)
class CoralTarget:
    """What a coral goes through: PAR it is used to, has now and in the end [umol m-2 s-1]."""

    coral: Coral
    spot: Spot
    acclimated_umol: float
    now_umol: float
    end_umol: float

    @property
    def ratio(self):
        """Return its light in the end for 1 it is used to."""
        return self.end_umol / self.acclimated_umol

    @property
    def band_words(self):
        """Say where the end lies against its band."""
        band = self.coral.band()
        if self.end_umol < band.low_umol:
            return "below its band"
        return "above its band" if self.end_umol > band.high_umol else "within its band"


def coral_targets(tank, live, *, factor):
    """Return the CoralTarget of each living coral whose light is known, the leader first.

    All share one change of light, so steps that suit the leader suit every other: a rise is led
    by the coral that rises most over what it is used to, a fall by the one that falls most.
    """
    corals = list(Coral.objects.present().living().filter(tank=tank).prefetch_related("spots"))
    today = live.now.astimezone(tank.zone).date()
    spots = [coral.spot_on(today) for coral in corals]
    used = acclimated_par(corals, live.light, live.now, tank.zone)
    targets = [
        CoralTarget(coral, spot, used[coral.pk], result.par_umol, result.par_umol * factor)
        for coral, spot, result in zip(
            corals, spots, spot_lights(spots, live.light, live.now), strict=True
        )
        if result is not None and coral.pk in used
    ]
    return leader_first(targets)


def leader_first(targets: list[CoralTarget]) -> list[CoralTarget]:
    """Return the targets with the one whose light goes furthest first; alike ones by name."""
    highest = max((target.ratio for target in targets), default=1.0)
    sign = -1.0 if highest > 1.0 + SAME_RATIO else 1.0

    def order(target: CoralTarget) -> tuple[int, str]:
        return round(sign * target.ratio / SAME_RATIO), target.coral.name

    return sorted(targets, key=order)
