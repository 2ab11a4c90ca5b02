"""A shared plan copied into a tank of whoever opened it."""

from apps.accounts.models import User
from apps.planning.models import Plan
from apps.tanks.models import Tank

# A fixture that means nothing to another keeper; what the plan knows of it stands in the plan.
NOBODYS = "own:0"


def take_plan(*, plan: Plan, keeper: User, tank: Tank) -> Plan:
    """Make a copy of a layout plan for a tank of a keeper's, and return it.

    The question and its answers go along, and nothing that says whose they were: neither for whom
    and by whom it was made, nor which fixtures of a library it names.
    """
    sources = plan.asked.get("sources", [])
    nameless = [NOBODYS if source.startswith("own:") else source for source in sources]
    copy = Plan(owner=keeper, tank=tank, kind=plan.kind, name=plan.name, notes=plan.notes,
                asked=plan.asked | {"sources": nameless}, answer=plan.answer)  # fmt: skip
    copy.full_clean()
    copy.save()
    return copy
