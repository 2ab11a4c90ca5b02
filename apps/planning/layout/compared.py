"""The light of a tank's planned layouts, to be set beside what was measured in it."""

from collections.abc import Iterator
from functools import partial

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.timezone import now

from apps.accounts.models import User
from apps.lightmap.compare.lights import PLANS
from apps.lightmap.difference.dated_light import Comparable, ComparedLight
from apps.lightmap.lightmap import tank_light
from apps.photics.layout.hanging import Layout
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.question import Question
from apps.planning.layout.map import PlannedTank
from apps.planning.layout.searching import searched_plan
from apps.planning.models import LAYOUT, Plan
from apps.tanks.models import Tank

# Plans that are offered, the last changed first: chosen, so that a page stays quick.
PLANS_MOST = 8


def planned_lights(user: User, tank: Tank) -> Iterator[Comparable]:
    """Yield each answer of a tank's layout plans that a user may see."""
    for plan in offered_plans(user, tank):
        searched = searched_plan(plan)
        answers = searched.answers if searched.rests else ()
        for number, answer in enumerate(answers, start=1):
            name = f"{plan.name}, answer {number}"
            make = partial(planned_light, name, searched.stored.question, answer.layout)
            yield Comparable(f"plan-{plan.pk}-{number}", PLANS, name, make)


def compare_address(user: User, plan: Plan) -> str:
    """Return where an answer of a plan stands beside its tank's light, to be ended by its number.

    Empty where the Compare page does not offer it: of no tank, or older than those it lists; and
    where no light is known of the tank now.
    """
    tank = plan.tank
    if tank is None or plan not in offered_plans(user, tank):
        return ""
    if tank_light(tank).map_for(now()) is None:
        return ""
    here = reverse("light_compare", args=[tank.pk])
    return f"{here}?a=day-{tank.today()}&b=plan-{plan.pk}-"


def offered_plans(user: User, tank: Tank) -> QuerySet[Plan]:
    """Return the layout plans of a tank that a user may set beside its light."""
    return Plan.objects.visible_to(user).filter(tank=tank, kind=LAYOUT)[:PLANS_MOST]


def planned_light(name: str, question: Question, layout: Layout) -> ComparedLight:
    """Return the light of one layout in the water of its question."""
    fixtures, outputs = layout.fixtures(question)
    field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
    zone = question.zones[0]
    water = PlannedTank(question.tank, question.rocks)
    return ComparedLight(name, water, field, usual_depth_cm=sum(zone.depth_cm) / 2)
