"""What each zone of a question gets from fixtures over it, by the planned light field."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.field.light_field import LightField
from apps.photics.ground.arrays import BoolArray
from apps.photics.ground.scene import Fixture, Rock
from apps.photics.layout.light.branch_shadow import branch_shadow
from apps.photics.layout.light.share_draws import drawn_zone
from apps.photics.layout.planned_light import PlannedRig, planned_field
from apps.photics.layout.question import Question, Zone
from apps.photics.layout.score import SERVED
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.remainder import REMAINDER

# Points a shadow is looked at in each zone, at most: chosen, because shadows change slowly.
SHADOW_POINTS = 12
# How much finer than the search a zone is looked at [1]: chosen, because this is what is shown.
FINER = 2
# Less of a zone than this lies out of its band in name only [%]: chosen, because it is no whole
# percent.
NONE_BELOW_PERCENT = 0.5


@dataclass(frozen=True)
class ZoneLight:
    """What one zone gets: shares of its points [%] and PAR with its interval [umol m-2 s-1].

    In band, dim and bright are by the best guess. Surely, likely and perhaps are the ends and the
    middle of what the share in band may come to, low and high those of the mean: 90 % intervals.
    """

    zone: Zone
    in_band_percent: float
    dim_percent: float
    bright_percent: float
    surely_percent: float
    likely_percent: float
    perhaps_percent: float
    mean_umol: float
    low_umol: float
    high_umol: float
    most_umol: float
    evenness: float
    from_one_percent: float  # share of the light straight from one fixture
    shadow_percent: float  # what a branch takes of the light behind it

    @property
    def served(self) -> bool:
        """Return whether enough of the zone lies in its band."""
        return self.likely_percent >= 100 * SERVED

    @property
    def surely_served(self) -> bool:
        """Return whether enough of the zone lies in its band however the light may be off."""
        return self.surely_percent >= 100 * SERVED

    @property
    def state(self) -> str:
        """Return "within", "below" or "above" as the zone mostly lies."""
        if self.served:
            return "within"
        return "below" if self.dim_percent >= self.bright_percent else "above"

    @property
    def is_partly_dim(self) -> bool:
        """Return whether a part of the zone worth naming lies below its band."""
        return self.dim_percent >= NONE_BELOW_PERCENT

    @property
    def is_partly_bright(self) -> bool:
        """Return whether a part of the zone worth naming lies above its band."""
        return self.bright_percent >= NONE_BELOW_PERCENT


def zone_lights(
    question: Question, fixtures: Sequence[Fixture], outputs: Sequence[OutputEstimate]
) -> tuple[ZoneLight, ...]:
    """Return the ZoneLight of every zone of a question, in its order.

    `outputs` one for each of the fixtures.
    """
    field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
    return tuple(zone_light(field, zone, question.rocks) for zone in question.zones)


def zone_light(field: LightField, zone: Zone, rocks: Sequence[Rock]) -> ZoneLight:
    """Return the ZoneLight of one zone by a planned field."""
    points = zone.points(rocks, tank=field.tank, finer=FINER)
    some = points[:: max(len(points) // SHADOW_POINTS, 1)]
    fit = field.rig_fit
    if not isinstance(fit, PlannedRig):
        raise ValueError("The light of a zone is that of a planned field.")
    log_par, spread = fit.spread(points)
    par = np.exp(log_par)
    drawn = drawn_zone(
        log_par, spread, low_umol=zone.low_umol, high_umol=zone.top_umol, common=REMAINDER
    )

    def percent(mask: BoolArray) -> float:
        return 100.0 * float(np.mean(mask))

    return ZoneLight(
        zone=zone,
        in_band_percent=percent((par >= zone.low_umol) & (par <= zone.top_umol)),
        dim_percent=percent(par < zone.low_umol),
        bright_percent=percent(par > zone.high_umol),
        surely_percent=100.0 * drawn.surely,
        likely_percent=100.0 * drawn.likely,
        perhaps_percent=100.0 * drawn.perhaps,
        mean_umol=float(par.mean()),
        low_umol=drawn.mean_low_umol,
        high_umol=drawn.mean_high_umol,
        most_umol=float(par.max()),
        evenness=float(par.min() / par.mean()),
        from_one_percent=100.0 * float(field.directness(some).mean()),
        shadow_percent=100.0 * float(branch_shadow(fit.rig, fit.theta, some).mean()),
    )
