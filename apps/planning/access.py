"""A plan for one reader: strangers get 404, readers who write get 403.

A plan of a tank is seen by all who see the tank and changed by all who may change it; a plan
without a tank is its owner's alone.
"""

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404

from apps.accounts.models import User
from apps.planning.models import Plan
from apps.tanks.access import may_write


def may_change_plan(user: User, plan: Plan) -> bool:
    """Return whether a user may change a plan they see."""
    if plan.tank_id is None:
        return bool(plan.owner_id == user.pk)
    return may_write(user, plan.tank)


def readable_plan(user: User, pk: int, *, kind: str | None = None) -> Plan:
    """Return a plan with its tank, or raise Http404; of one kind only if one is given."""
    plans = Plan.objects.visible_to(user)
    if kind is not None:
        plans = plans.filter(kind=kind)
    return get_object_or_404(plans.select_related("tank", "owner"), pk=pk)


def writable_plan(user: User, pk: int, *, kind: str | None = None) -> Plan:
    """Return a plan, or raise Http404 for a stranger and PermissionDenied for a viewer."""
    plan = readable_plan(user, pk, kind=kind)
    if not may_change_plan(user, plan):
        raise PermissionDenied
    return plan


def owned_plan(user: User, pk: int, *, kind: str | None = None) -> Plan:
    """Return a plan whose tank, or which itself without one, is the user's own.

    Raises Http404 for a stranger and PermissionDenied for others who may see it.
    """
    plan = readable_plan(user, pk, kind=kind)
    owner_id = plan.owner_id if plan.tank_id is None else plan.tank.owner_id
    if owner_id != user.pk:
        raise PermissionDenied
    return plan
