"""Saving a light change together with what hangs above the tank from then on.

A change stores the whole rig after it and, in the column `told`, what of that it stated itself.
All else follows from the changes before: so an entry dated back, edited, deleted or brought back
sets every later rig right, and what a keeper entered is never overwritten.

Whoever writes what hangs holds the tank first. What a row states is told from what hung before, so
forms and calls that are saved hold it before they read that.
"""

import itertools
from collections.abc import Iterable, Iterator

from django.db import transaction
from django.db.models import Max, QuerySet

from apps.accounts.models import User
from apps.common.serving.row_locks import hold_row
from apps.lighting.fixture_models import Fixture
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.optic_models import carried_levels
from apps.tanks.access import hold_tank, hold_tanks
from apps.tanks.models import Tank

HUNG = "hung"
# What of a light change neither its form nor a call writes by itself.
STAYS = ("tells_rig", "taken_down", "removed_at")

# HungFixtures by their number.
Rig = dict[int, HungFixture]


@transaction.atomic
def save_light_change(
    *,
    change: LightChange,
    hung: list[HungFixture] | None = None,
    taken_down: Iterable[int] = (),
) -> LightChange:
    """Save a LightChange and, unless hung is None, put these HungFixtures in place of its own.

    The rows are the whole rig from then on; those without a number are newly hung. taken_down
    holds the numbers of the fixtures that hung before and no longer do. Raises Http404 where the
    change or its tank is gone.
    """
    hold_tank(change.tank_id)
    if change.pk is not None:
        # Gone meanwhile, it is not made anew.
        held = hold_row(LightChange.objects, change.pk)
        # What was saved of it since it was read, and is not told here, stays.
        for name in STAYS:
            setattr(change, name, getattr(held, name))
    if hung is not None:
        change.tells_rig = True
        change.taken_down = sorted(set(taken_down) - {row.number for row in hung})
    change.save()
    if hung is not None:
        numbers = fresh_numbers(change.tank)
        change.hung.all().delete()
        for row in hung:
            row.pk, row.change = None, change
            if row.number is None:
                row.number, row.told = next(numbers), [HUNG]
        HungFixture.objects.bulk_create(hung)
    rebuild_rigs(change.tank)
    return change


@transaction.atomic
def remove_light_change(*, change: LightChange) -> None:
    """Take a LightChange away; the rigs after it are as if it had never been."""
    hold_tanks([change.tank_id])
    change.remove()
    rebuild_rigs(change.tank)


@transaction.atomic
def restore_light_change(*, change: LightChange) -> None:
    """Bring a LightChange back, and the rigs after it with it."""
    hold_tanks([change.tank_id])
    change.restore()
    rebuild_rigs(change.tank)


def fresh_numbers(tank: Tank) -> Iterator[int]:
    """Yield numbers that no fixture over the tank ever had, in changes taken away neither."""
    most = HungFixture.objects.filter(change__tank=tank).aggregate(Max("number"))["number__max"]
    return itertools.count((most or 0) + 1)


def rebuild_rigs(tank: Tank) -> None:
    """Make the rows of every change follow from what it stated and from the changes before it."""
    before = None
    changes = tank.light_changes.present().in_order().filter(tells_rig=True)
    for change in changes.prefetch_related("hung"):
        own = {row.number: row for row in change.hung.all()}
        after = own if before is None else followed(change, own, before)
        put(own, after)
        before = after


def followed(change: LightChange, own: Rig, before: Rig) -> Rig:
    """Return the rig after a change by number, from its own rows and the rig before."""
    standing = {n: row for n, row in before.items() if n not in change.taken_down}
    after = {}
    for number, row in own.items():
        if number in standing:
            after[number] = following(row, standing[number])
        elif row.told:
            # Its hanging was taken out of the log, yet the keeper stated something of it here.
            after[number] = row
    for number, row in standing.items():
        if number not in own:
            after[number] = following(HungFixture(change=change, number=number), row)
    return dict(sorted(after.items()))


def following(row: HungFixture, old: HungFixture) -> HungFixture:
    """Set of a row all that it does not state itself as in the row before; return it."""
    if HUNG not in row.told:
        facts = ["fixture_id", *HungFixture.FACTS]
        for name in facts + [name for name in HungFixture.SETTINGS if name not in row.told]:
            if getattr(row, name) != getattr(old, name):
                setattr(row, name, getattr(old, name))
                row.is_off = True
    return row


def put(own: Rig, after: Rig) -> None:
    """Write what differs between a change's stored rows and those it should have."""
    gone = [row.pk for number, row in own.items() if number not in after]
    HungFixture.objects.filter(pk__in=gone).delete()
    HungFixture.objects.bulk_create([row for row in after.values() if row.pk is None])
    off = [row for row in after.values() if row.pk and getattr(row, "is_off", False)]
    if off:
        fields = ["fixture", *HungFixture.FACTS, *HungFixture.SETTINGS]
        HungFixture.objects.bulk_update(off, fields)


def hangings(fixture: Fixture, user: User) -> QuerySet:
    """Return where a fixture hangs, over the tanks a keeper may change."""
    return HungFixture.objects.filter(
        fixture=fixture, change__tank__in=Tank.objects.changeable_by(user)
    )


def tanks_with(fixture: Fixture, user: User) -> QuerySet:
    """Return the keys of the tanks over which `correct_hangings` corrects a fixture."""
    return hangings(fixture, user).values("change__tank")


@transaction.atomic
def correct_hangings(fixture: Fixture, user: User) -> int:
    """Write what a fixture is, now rightly described, wherever it hangs; return how often."""
    hold_tanks(tanks_with(fixture, user))
    facts = {here: getattr(fixture, there) for here, there in HungFixture.FACTS.items()}
    for row in hangings(fixture, user):
        if row.channel_levels:
            row.channel_levels = carried_levels(row.channel_levels, row.channels, fixture.channels)
            row.save(update_fields=["channel_levels"])
    return hangings(fixture, user).update(**facts)
