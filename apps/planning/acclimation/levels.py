"""The levels of an acclimation's steps: lamps are set in whole percent."""

import math
from collections.abc import Mapping

from apps.lighting.models import Zone
from apps.planning.models import Acclimation

# What rounding may leave of a whole percent [%].
DUST = 1e-6
FULL_PERCENT, LEAST_PERCENT = 100.0, 1.0


def is_led(base: Mapping[str, object]) -> bool:
    """Return whether steps by level set a lamp of a plan's rig: those over other water stay."""
    return base.get("zone", Zone.DISPLAY) == Zone.DISPLAY


def step_level(plan: Acclimation, base_percent: float, setting: float) -> float:
    """Return the level that a lamp is set to for a step [%], whole and never past the wanted one.

    `base_percent` its level when the plan was made, `setting` the step's light for 100 then. A lamp
    that stays as it hung keeps its level, whole or not.
    """
    exact = exact_level(base_percent, setting)
    if abs(exact - base_percent) < DUST:
        return base_percent
    rises = plan.target_umol >= plan.start_umol
    whole = math.floor(exact + DUST) if rises else math.ceil(exact - DUST)
    return max(float(whole), LEAST_PERCENT)


def exact_level(base_percent: float, setting: float) -> float:
    """Return the level that gives just the light of a step [%]; full at most."""
    return min(base_percent * setting / 100.0, FULL_PERCENT)
