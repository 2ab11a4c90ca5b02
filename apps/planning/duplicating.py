"""A second copy of a plan, to ask something else of it."""

from apps.accounts.models import User
from apps.common.copy_names import copy_name
from apps.planning.models import Plan


def duplicate_plan(*, plan: Plan, by: User) -> Plan:
    """Return a copy of a plan beside it, its maker's own; raises ValidationError."""
    name = copy_name(plan.name, most=Plan._meta.get_field("name").max_length)
    copy = Plan(
        owner=by, tank=plan.tank, kind=plan.kind, name=name,
        notes=plan.notes, for_whom=plan.for_whom, by_whom=plan.by_whom,
        letterhead=plan.letterhead, asked=plan.asked, answer=plan.answer,
    )  # fmt: skip
    copy.full_clean()
    copy.save()
    return copy
