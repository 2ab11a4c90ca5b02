"""Recently deleted: what waits to be restored, of one tank and of a keeper's own."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.common.removal import bring_back
from apps.tanks.access import writable_tank
from apps.tanks.deleted import (
    DELETED_KEPT_DAYS,
    deleted_of_keeper,
    deleted_of_tank,
    page_of_deleted,
)
from apps.tanks.removable_kinds import kind_named, writable_row


@login_required
@require_GET
def deleted_list(request):
    deleted, more = deleted_of_keeper(request.user)
    context = {"deleted": deleted, "more": more, "kept_days": DELETED_KEPT_DAYS}
    return render(request, "tanks/deleted_list.html", context)


@login_required
@require_GET
def tank_deleted(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    deleted, more = deleted_of_tank(tank)
    context = {"tank": tank, "deleted": deleted, "more": more, "kept_days": DELETED_KEPT_DAYS}
    return render(request, "tanks/tank_deleted.html", context)


@login_required
@require_POST
def deleted_restore(request, kind, pk):
    kind = kind_named(kind)
    row = writable_row(request.user, kind, pk)
    if kind.deleted_above(row):
        messages.info(request, f"What this {kind.noun} belongs to is deleted. Restore that first.")
        return redirect(page_of_deleted(kind, row))
    if bring_back(request, lambda: kind.restore(row), f"Restored: {kind.words(row)}."):
        return redirect(kind.page(row))
    return redirect(page_of_deleted(kind, row))
