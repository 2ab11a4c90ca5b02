"""The limiting coral of a whole-tank acclimation: the one that goes furthest from what it knows."""

from dataclasses import dataclass

from apps.corals.models import Band, Coral, Spot
from apps.corals.status import spot_lights
from apps.planning.acclimation.acclimated_light import acclimated_par
from apps.planning.what_if.live_light import LiveLight
from apps.tanks.models import Tank

# Ratios nearer than this are the same [1]: chosen, so that rounding does not choose the coral.
SAME_RATIO = 1e-6


@dataclass(frozen=True)
class CoralTarget:
    """What a coral goes through: PAR it is used to, has now and in the end [umol m-2 s-1]."""

    coral: Coral
    spot: Spot
    acclimated_umol: float
    now_umol: float
    end_umol: float
    band: Band

    @property
    def ratio(self) -> float:
        """Return its light in the end for 1 it is used to."""
        return self.end_umol / self.acclimated_umol

    @property
    def band_words(self) -> str:
        """Say where the end lies against its band."""
        if self.end_umol < self.band.low_umol:
            return "below its band"
        return "above its band" if self.end_umol > self.band.high_umol else "within its band"


def coral_targets(tank: Tank, live: LiveLight, *, factor: float) -> list[CoralTarget]:
    """Return the CoralTarget of each living coral whose light is known, the limiting one first.

    All share one change of light, to `factor` of now [1], so steps that suit the limiting coral
    suit every other: in a rise the one that rises most over what it is used to, in a fall the one
    that falls most.
    """
    corals = list(Coral.objects.present().living().filter(tank=tank).prefetch_related("spots"))
    today = live.now.astimezone(tank.zone).date()
    spots = [coral.spot_on(today) for coral in corals]
    used = acclimated_par(corals, live.light, live.now, tank.zone)
    targets = [
        CoralTarget(
            coral,
            spot,
            used[coral.pk],
            here.par_umol,
            here.par_umol * factor,
            coral.band(live.full_hours),
        )
        for coral, spot, here in zip(
            corals, spots, spot_lights(spots, live.light, live.now), strict=True
        )
        if here is not None and coral.pk in used
    ]
    return limiting_first(targets)


def limiting_first(targets: list[CoralTarget]) -> list[CoralTarget]:
    """Return the targets with the one whose light goes furthest first; alike ones by name."""
    highest = max((target.ratio for target in targets), default=1.0)
    sign = -1.0 if highest > 1.0 + SAME_RATIO else 1.0

    def order(target: CoralTarget) -> tuple[int, str]:
        return round(sign * target.ratio / SAME_RATIO), target.coral.name

    return sorted(targets, key=order)
