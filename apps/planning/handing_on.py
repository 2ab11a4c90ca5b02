"""Plans for a tank that gets another owner: they are the tank's, and go along."""

from collections.abc import Iterator

from apps.accounts.models import User
from apps.planning.models import Plan
from apps.tanks.models import Tank


def hand_plans_on(tank: Tank, to: User) -> Iterator[str]:
    """Make the first owner's plans for a tank the new one's; yield how many, in words."""
    count = Plan._base_manager.filter(tank=tank, owner=tank.owner).update(owner=to)
    if count:
        yield f"{count} plan{'' if count == 1 else 's'} handed on"
