"""Deleting and restoring a row of any kind, and the pages of what was deleted of late."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.common.removal import bring_back, offer_undo
from apps.tanks.access import writable_tank
from apps.tanks.deleted import (
    DELETED_KEPT_DAYS,
    deleted_of_keeper,
    deleted_of_tank,
    page_of_deleted,
    restore_first,
    way_on,
)
from apps.tanks.removable_kinds import (
    RemovableKind,
    kind_named,
    writable_present_row,
    writable_row,
)


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
    row = writable_row(request.user, kind, pk=pk)
    return _restored(
        request,
        kind,
        row,
        then=kind.page,
        otherwise=lambda row: page_of_deleted(kind, row),
    )


def removal_paths(kind: RemovableKind) -> list[URLPattern]:
    """Return the two addresses by which a row of a kind is deleted and restored."""
    methods = ["GET", "POST"] if kind.question else ["POST"]
    remove = login_required(require_http_methods(methods)(row_remove))
    restore = login_required(require_POST(row_restore))
    return [
        path(f"{kind.at}remove/", remove, {"kind": kind}, name=f"{kind.name}_remove"),
        path(f"{kind.at}restore/", restore, {"kind": kind}, name=f"{kind.name}_restore"),
    ]


def row_remove(request: HttpRequest, *, kind: RemovableKind, **where: object) -> HttpResponse:
    """Delete a row and offer to undo it; where its kind has a question, ask it first.

    `where` are the words of the address. One that is deleted already leads to where it waits.
    """
    lookup = kind.lookup(where)
    try:
        row = writable_present_row(request.user, kind, **lookup)
    except Http404:
        if kind.absent:
            return redirect(kind.absent(request.user, **where))
        onward = way_on(request, kind, **lookup)
        if onward is None:
            raise
        return onward
    if request.method == "GET":
        template, context = kind.question(row)
        return render(request, template, context | {"kept_days": DELETED_KEPT_DAYS})
    kind.remove(row)
    done = f"Deleted {kind.sentence_name(row)}. {kind.remark}".strip()
    offer_undo(request, done, reverse(f"{kind.name}_restore", kwargs=where))
    return redirect(kind.page_left(row))


def row_restore(request: HttpRequest, *, kind: RemovableKind, **where: object) -> HttpResponse:
    """Bring a deleted row back, or say why it can't be."""
    try:
        row = writable_row(request.user, kind, **kind.lookup(where))
    except Http404:
        if kind.absent:
            return redirect(kind.absent(request.user, **where))
        raise
    return _restored(request, kind, row, then=kind.page_undone, otherwise=kind.page_left)


def _restored(request, kind, row, *, then, otherwise):
    """Restore a row that may be changed, and go to one page or, where it can't be, another."""
    if kind.deleted_above(row):
        messages.info(request, restore_first(kind))
        return redirect(page_of_deleted(kind, row))
    done = f"Restored {kind.sentence_name(row)}."
    is_back = bring_back(request, lambda: kind.restore(row), done)
    return redirect(then(row) if is_back else otherwise(row))
