"""Plans among what a search finds."""

from apps.accounts.models import User
from apps.common.searching.hits import Hit, HitGroup, excerpt, group_of, with_all_words
from apps.planning.models import Plan

FIELDS = ("name", "notes", "for_whom", "by_whom")


def plan_hits(user: User, query: str) -> list[HitGroup]:
    """Return the plans a user may see that have all words of a query, newest first; one query."""
    plans = Plan.objects.visible_to(user).filter(with_all_words(query, FIELDS))
    # What was asked and answered may be large, and is not looked at here.
    plans = plans.select_related("tank").defer("asked", "answer", "sent")
    return group_of("plans", "Plans", plans, lambda plan: plan_hit(plan, query))


def plan_hit(plan: Plan, query: str) -> Hit:
    place = plan.tank.name if plan.tank else ""
    return Hit(plan.name, plan.get_absolute_url(), place, excerpt(plan.notes, query))
