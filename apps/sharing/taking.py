"""A shared plan copied into a tank of whoever opened it."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import User
from apps.lighting.change.address import typed_of
from apps.lighting.models import Fixture, HungFixture
from apps.planning.documents import Document
from apps.planning.models import LAYOUT, Plan
from apps.planning.what_if.keeping import TriedRig, keep_tried
from apps.planning.what_if.live_light import live_light
from apps.planning.what_if.trying import fields_of, try_rig
from apps.tanks.models import Tank

# A fixture that means nothing to another keeper; what the plan knows of it stands in the plan.
NOBODYS = "own:0"


def take_plan(*, plan: Plan, keeper: User, tank: Tank) -> Plan:
    """Make a copy of a plan for a tank of a keeper's, and return it.

    Raises ValidationError with a sentence where the plan can't be of that tank.
    """
    return (take_layout if plan.kind == LAYOUT else take_what_if)(plan, keeper, tank)


def fit_light(plan: Plan, tank: Tank) -> None:
    """Fit the light that the copy of a plan rests on, and keep it, before anything is written."""
    if plan.kind != LAYOUT:
        for one in (plan.tank, tank):
            _ = live_light(one, timezone.now()).serving


def take_layout(plan: Plan, keeper: User, tank: Tank) -> Plan:
    """Return the copy of a layout.

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


@transaction.atomic
def take_what_if(plan: Plan, keeper: User, tank: Tank) -> Plan:
    """Return the copy of a what-if, with its lamps in the keeper's library.

    It asks what those lamps, hung and set alike, would do over the keeper's own tank; what hangs
    there now comes down. Lamps tried before are not described twice.
    """
    rows = [moved_row(row, keeper) for row in tried_in(plan, plan.tank, plan.owner).rows]
    depth_cm = min(float(plan.asked.get("depth_cm", 0.0)), tank.depth_cm)
    question: Document = {"version": 1, "depth_cm": depth_cm, "rows": rows}
    copy = Plan(owner=keeper, tank=tank, kind=plan.kind, name=plan.name, notes=plan.notes,
                asked=question)  # fmt: skip
    keep_tried(plan=copy, tried=tried_in(copy, tank, keeper))
    return copy


def tried_in(plan: Plan, tank: Tank, keeper: User) -> TriedRig:
    """Return what a what-if tries over a tank; raise ValidationError where it can't be tried."""
    live = live_light(tank, timezone.now())
    if live.problem:
        raise ValidationError(live.problem)
    shown = try_rig(live, keeper, fields_of(plan, keeper.units))
    tried = shown.get("tried")
    if not isinstance(tried, TriedRig):
        raise ValidationError([str(problem) for problem in shown["problems"]])
    return tried


def moved_row(row: HungFixture, keeper: User) -> Document:
    """Return the row of a rig with its lamp hung anew out of a keeper's own library."""
    return typed_of(row) | {"number": None, "fixture_id": own_lamp(row, keeper).pk}


def own_lamp(row: HungFixture, keeper: User) -> Fixture:
    """Return the lamp of a keeper's that is what hangs in a row, described now if there is none.

    By its beam: a photometric file stays with the lamp it was brought for.
    """
    facts = {there: getattr(row, here) for here, there in HungFixture.FACTS.items()}
    del facts["rays_id"]
    fixture = Fixture.objects.owned_by(keeper).filter(**facts).first()
    if fixture is None:
        fixture = Fixture(owner=keeper, **facts)
        fixture.full_clean()
        fixture.save()
    return fixture
