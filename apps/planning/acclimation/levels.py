"""The levels of an acclimation's steps: whole percents, and tenths where those are too coarse."""

import math
from collections.abc import Mapping

from apps.lighting.models import Zone
from apps.planning.models import Acclimation

# What rounding may leave of a whole percent [%].
DUST = 1e-6
# Parts of a percent that a dim lamp is set in [1]: chosen, as lamps with a finer dial take tenths.
PARTS = 10
FULL_PERCENT = 100.0


def is_led(base: Mapping[str, object]) -> bool:
    """Return whether steps by level set a lamp of a plan's rig: those over other water stay."""
    return base.get("zone", Zone.DISPLAY) == Zone.DISPLAY


def step_level(plan: Acclimation, base_percent: float, setting: float) -> float:
    """Return the level that a lamp is set to for a step [%], never past the wanted one.

    `base_percent` its level when the plan was made, `setting` the step's light for 100 then. Whole,
    but in tenths where one percent is more of it than the plan's rate allows. A lamp that stays as
    it hung keeps its level, whole or not, and one that shone never goes below the least part. What
    rounding left of a level is added to the next step: that one may pass the rate by up to one
    percent of level, or a tenth, for lamps that are set no finer.
    """
    exact = exact_level(base_percent, setting)
    if abs(exact - base_percent) < DUST:
        return base_percent
    rises = plan.target_umol >= plan.start_umol
    parts = 1 if exact * plan.rate_percent >= FULL_PERCENT else PARTS
    rounded = math.floor(exact * parts + DUST) if rises else math.ceil(exact * parts - DUST)
    return max(rounded / parts, min(1.0 / parts, base_percent))


def exact_level(base_percent: float, setting: float) -> float:
    """Return the level that gives just the light of a step [%]; full at most."""
    return min(base_percent * setting / 100.0, FULL_PERCENT)
