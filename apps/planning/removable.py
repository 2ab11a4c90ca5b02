"""What of plans can be deleted and restored."""

from django.urls import reverse

from apps.planning.models import Acclimation, Plan
from apps.tanks.removable_kinds import RemovableKind


def plan_list_page(plan: Plan) -> str:
    if plan.tank_id:
        return reverse("tank_plan_list", args=[plan.tank_id])
    return reverse("plan_list")


PLAN = RemovableKind(
    key="plan",
    model=Plan,
    noun="plan",
    plural="plans",
    tank="tank",
    owner="owner",
    words=lambda plan: plan.name,
    page=lambda plan: plan.get_absolute_url(),
    at="plans/<int:pk>/",
    name="plan",
    called=lambda plan: f"“{plan}”",
    left=plan_list_page,
    undone=plan_list_page,
)
ACCLIMATION = RemovableKind(
    key="acclimation",
    model=Acclimation,
    noun="acclimation",
    plural="acclimations",
    tank="tank",
    within=("coral",),
    words=str,
    page=lambda plan: reverse("acclimation_detail", args=[plan.pk]),
    at="acclimation/<int:pk>/",
    name="acclimation",
    called=lambda plan: f"the plan for {plan}",
    left=lambda plan: reverse("acclimation_list", args=[plan.tank_id]),
)
KINDS = (
    PLAN,
    ACCLIMATION,
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
