"""The lumen method beside an answer: a check by hand, and what the light field says beyond it."""

from dataclasses import dataclass

import numpy as np

from apps.common.units import percent_words
from apps.photics.layout.hanging import Layout
from apps.photics.layout.light.lumen_method import MAINTENANCE, estimated_umol, utilisation
from apps.photics.layout.question import Question
from apps.photics.layout.zone_light import ZoneLight

# Nearer to the light field than this is the same [%]: chosen, because the estimate is rougher.
SAME_PERCENT = 15.0


@dataclass(frozen=True)
class QuickEstimate:
    """The mean PAR of a zone's middle level by the lumen method, and by the light field."""

    zone_name: str
    depth_cm: float
    par_umol: float
    field_umol: float
    utilisation_percent: float
    maintenance_percent: float

    @property
    def percent(self) -> float:
        """Return how much more the light field has than the estimate [%]."""
        return 100.0 * (self.field_umol / self.par_umol - 1.0)

    @property
    def words(self) -> str:
        """Return how the light field differs from the estimate."""
        if abs(self.percent) < SAME_PERCENT:
            return "about the same"
        return f"{percent_words(abs(self.percent))} {'more' if self.percent > 0 else 'less'}"


def quick_estimate(
    question: Question, layout: Layout, zones: tuple[ZoneLight, ...]
) -> QuickEstimate:
    """Return the QuickEstimate of a layout for the zone that wants the most light."""
    lit = max(zones, key=lambda light: light.zone.low_umol)
    depth = sum(lit.zone.depth_cm) / 2
    lamps = [
        (kind.level * question.candidates[kind.candidate].output.ppf_umol_s,
         kind.beam_deg, kind.height_cm)
        for kind in layout.hung for _ in kind.places_cm
    ]  # fmt: skip
    used = [utilisation(question.tank, height_cm=height, beam_deg=beam)
            for _, beam, height in lamps]  # fmt: skip
    output = [lamp[0] for lamp in lamps]
    estimate = estimated_umol(
        question.tank, lamps, depth_cm=depth, k_per_cm=float(np.exp(question.law.means[0]))
    )
    return QuickEstimate(
        zone_name=lit.zone.name,
        depth_cm=depth,
        par_umol=estimate,
        field_umol=lit.mean_umol,
        utilisation_percent=100.0 * float(np.average(used, weights=output)),
        maintenance_percent=100.0 * MAINTENANCE,
    )
