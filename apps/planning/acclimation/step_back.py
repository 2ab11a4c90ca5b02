"""The step back before the first one of an acclimation: what gives the light it started from."""

from collections.abc import Sequence

from apps.planning.acclimation.levels import is_led
from apps.planning.acclimation.step_settings import share_limit
from apps.planning.models import Acclimation, AcclimationStep

Means = Acclimation.Means


def before_first(plan: Acclimation, steps: Sequence[AcclimationStep]) -> AcclimationStep:
    """Return the unsaved step that stands for the light before the first one.

    Levels and screens go with the light; lights come back to where they hung when the plan was
    made, and a coral to where it sat.
    """
    by_share = plan.means in (Means.LEVEL, Means.SCREEN)
    if not by_share:
        return AcclimationStep(number=0, light_umol=plan.start_umol, setting=0.0)
    first = steps[0]
    slope = umol_by_share(steps)
    wanted = first.setting + (plan.start_umol - first.light_umol) / slope
    # The coral may come from more light than these lights have: they go to full, not beyond; and
    # from less than daylight alone gives: they go off.
    setting = min(max(wanted, 0.0), most_share(plan))
    light = first.light_umol + slope * (setting - first.setting)
    return AcclimationStep(number=0, light_umol=light, setting=setting)


def umol_by_share(steps: Sequence[AcclimationStep]) -> float:
    """Return how much light a percent of the setting gives [umol m-2 s-1].

    By the first two steps, as daylight stays beside the lamps' light; of one step alone, in
    proportion.
    """
    first, *later = steps
    if later and later[0].setting != first.setting:
        slope: float = (later[0].light_umol - first.light_umol) / (later[0].setting - first.setting)
        if slope > 0:
            return slope
    return first.light_umol / first.setting


def most_share(plan: Acclimation) -> float:
    """Return the most light a plan's means can give, % of that when it was made."""
    top = max((row["level_percent"] for row in plan.rig if is_led(row)), default=0.0)
    return share_limit(plan.means, top)
