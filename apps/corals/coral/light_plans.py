"""What of a coral's light is under way: plans that apps above hold, such as an acclimation."""

from dataclasses import dataclass

from apps.common.registry import Registry


@dataclass(frozen=True)
class LightPlan:
    """A plan under way; `coral_pk` is None where it is for the whole tank."""

    coral_pk: int | None
    title: str
    url: str


# Providers take (tank, now).
LIGHT_PLANS: Registry[LightPlan] = Registry()
