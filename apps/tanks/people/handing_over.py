"""A tank that gets another owner: all in it goes along, the doors its first owner opened close."""

from django.db import transaction
from django.utils import timezone

from apps.common.registry import Registry
from apps.tanks.access import hold_tank
from apps.tanks.models import Invitation, Membership, ShownTank

# What apps above do when a tank gets another owner: provider(tank, new owner), while the tank still
# says who it was. It yields in words what ended.
HANDED_OVER: Registry[str] = Registry()


@transaction.atomic
def hand_over(*, tank, to, stays):
    """Make `to` the owner; the one before keeps nothing, or stays as a co-keeper."""
    held = hold_tank(tank.pk)
    before = held.owner
    HANDED_OVER.collect(held, to)
    ShownTank.objects.filter(tank=held).delete()
    Invitation.objects.open_now().filter(tank=held).update(closed_at=timezone.now())
    held.memberships.filter(user=to).delete()
    held.owner = to
    held.save(update_fields=["owner"])
    if stays:
        role = Membership.Role.CO_KEEPER
        Membership.objects.create(tank=held, user=before, role=role)
