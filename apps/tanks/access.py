"""Who may see or change a tank. Every view and API call starts here.

Strangers get 404, so that a tank's existence is not told; readers who try to write get 403.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.shortcuts import get_object_or_404

from apps.common.numbers import whole_number
from apps.common.serving.row_locks import hold_row
from apps.tanks.models import Tank


def readable_tank(user, pk):
    """Return the tank, or raise Http404 for a stranger."""
    return get_object_or_404(Tank.objects.visible_to(user).select_related("owner"), pk=pk)


def writable_tank(user, pk):
    """Return the tank, or raise Http404 for a stranger and PermissionDenied for a viewer."""
    tank = readable_tank(user, pk)
    if not may_write(user, tank):
        raise PermissionDenied
    return tank


def owned_tank(user, pk):
    """Return the tank, or raise Http404 for a stranger, PermissionDenied for other non-owners."""
    tank = readable_tank(user, pk)
    if tank.owner_id != user.pk:
        raise PermissionDenied
    return tank


def may_write(user, tank):
    if tank.owner_id == user.pk and tank.removed_at is None:
        return True  # as most who look are
    return Tank.objects.changeable_by(user).filter(pk=tank.pk).exists()


def require_write(user, tank):
    """Raise PermissionDenied for a reader of a tank they can already see."""
    if not may_write(user, tank):
        raise PermissionDenied


def hold_tanks(pks: Iterable[int]) -> list[int]:
    """Let one change of tanks at a time through, until the transaction ends; return those held.

    For rows that rest on each other, such as what hangs after each change of light. To be held
    before any row of theirs, and all at once, so that no two writers wait for each other.
    """
    held = Tank._base_manager.select_for_update(no_key=True).filter(pk__in=pks)
    return list(held.order_by("pk").values_list("pk", flat=True))


def hold_tank(pk: int) -> Tank:
    """Hold one tank and return it as it stands; raises Http404 where it is gone."""
    return hold_row(Tank.objects, pk)


@contextmanager
def holding_tank(tank: Tank) -> Iterator[None]:
    """Write in one transaction, holding a tank from the start; raises Http404 where it is gone."""
    with transaction.atomic():
        hold_tank(tank.pk)
        yield


def tank_to_go_back_to(request):
    """Return the tank whose form sent the keeper to another room (`?for=`), if any."""
    pk = whole_number(request.GET.get("for", ""))
    if pk is None:
        return None
    return Tank.objects.changeable_by(request.user).filter(pk=pk).first()


def tank_of_job(job):
    """Return the tank that a job is about; nothing where its keeper no longer sees it."""
    pk = job.arguments.get("tank_pk")
    return Tank.objects.visible_to(job.keeper).filter(pk=pk) if pk and job.keeper else ()
