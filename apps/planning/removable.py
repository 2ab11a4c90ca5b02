"""What of plans can be deleted and restored."""

from django.urls import reverse

from apps.planning.models import Acclimation, Plan
from apps.tanks.removable_kinds import RemovableKind

KINDS = (
    RemovableKind(
        key="plan",
        model=Plan,
        noun="plan",
        plural="plans",
        tank="tank",
        owner="owner",
        words=lambda plan: plan.name,
        page=lambda plan: plan.get_absolute_url(),
    ),
    RemovableKind(
        key="acclimation",
        model=Acclimation,
        noun="acclimation",
        plural="acclimations",
        tank="tank",
        within=("coral",),
        words=str,
        page=lambda plan: reverse("acclimation_detail", args=[plan.pk]),
    ),
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
