"""At which level a planned rig starts, so that corals come slowly to its light."""

import datetime as dt
from dataclasses import dataclass

import numpy as np

from apps.corals.models import Coral
from apps.lightmap.lightmap import tank_light
from apps.photics.layout.hanging import Layout
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.question import Question
from apps.planning.acclimation.acclimated_light import acclimated_par
from apps.tanks.models import Tank

# Part of the planned level to start at where no coral's light is known, and the least that is
# ever proposed [1]: our own choice, as no source gives one.
UNKNOWN_SHARE, LEAST_SHARE = 0.5, 0.1


@dataclass(frozen=True)
class StartLevel:
    """The part of the planned levels to start at [1], and the coral that sets it, if one does."""

    share: float
    coral: Coral | None = None
    acclimated_umol: float | None = None
    planned_umol: float | None = None

    @property
    def rises(self) -> bool:
        """Return whether there is anything to rise to."""
        return self.share < 1.0

    @property
    def factor(self) -> float:
        """Return the light in the end for 1 at the start [1]."""
        return 1.0 / self.share

    def percent(self, level: float) -> int:
        """Return the start of a planned level from 0 to 1, in whole percent [%]."""
        return max(1, round(100.0 * level * self.share))


def start_level(
    tank: Tank | None, question: Question, layout: Layout, now: dt.datetime
) -> StartLevel:
    """Return the StartLevel of a layout over a tank, or over one that is only measures.

    Where corals live whose light is known, the one that would rise most keeps the light it is used
    to; else a part of our own choice.
    """
    if tank is None:
        return StartLevel(UNKNOWN_SHARE)
    corals = list(Coral.objects.present().living().filter(tank=tank).prefetch_related("spots"))
    today = now.astimezone(tank.zone).date()
    placed = [(coral, spot) for coral in corals if (spot := coral.spot_on(today))]
    used = acclimated_par(corals, tank_light(tank), now, tank.zone) if placed else {}
    placed = [(coral, spot) for coral, spot in placed if coral.pk in used]
    if not placed:
        return StartLevel(UNKNOWN_SHARE)
    fixtures, outputs = layout.fixtures(question)
    field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
    light = field.at(np.array([(s.x_cm, s.y_cm, s.depth_cm) for _, s in placed], float))
    planned = [float(par) if not rock else 0.0
               for par, rock in zip(light.par_umol, light.in_rock, strict=True)]  # fmt: skip
    lit = [(used[coral.pk] / par, coral, par)
           for (coral, _), par in zip(placed, planned, strict=True) if par > 0]  # fmt: skip
    if not lit:
        return StartLevel(UNKNOWN_SHARE)
    share, coral, par = min(lit, key=lambda one: one[0])
    return StartLevel(min(max(share, LEAST_SHARE), 1.0), coral, used[coral.pk], par)
