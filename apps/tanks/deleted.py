"""What was deleted of late and can still be restored, and what goes for good after that."""

import datetime as dt
from dataclasses import dataclass
from functools import wraps

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from apps.common.registry import Registry
from apps.common.removal import Removable
from apps.tanks.models import Tank
from apps.tanks.removable_kinds import REMOVABLE, RemovableKind, kind_named, writable_row

DELETED_KEPT_DAYS = 30
# What apps above delete when a purge is run: called with the moment, they yield a line on it.
PURGES: Registry[str] = Registry()
# Rows a page tells of: a tank's notes may be deleted by the hundred.
DELETED_SHOWN_MAX = 200


@dataclass(frozen=True)
class DeletedRow:
    kind: RemovableKind
    row: Removable
    words: str

    @property
    def goes_at(self) -> dt.datetime:
        """From when on a purge may take it."""
        return self.row.removed_at + dt.timedelta(days=DELETED_KEPT_DAYS)


def deleted_of_tank(tank: Tank) -> tuple[list[DeletedRow], int]:
    """Return what was deleted from a tank of late, newest first, and how many more there are."""
    return _newest([(kind, kind.of_tank(tank)) for kind in REMOVABLE.collect()])


def deleted_of_keeper(user) -> tuple[list[DeletedRow], int]:
    """Return the same of what is a keeper's own: tanks, meters, fixtures, plans without a tank."""
    return _newest([(kind, kind.of_keeper(user)) for kind in REMOVABLE.collect()])


def _newest(rows_by_kind: list[tuple[RemovableKind, QuerySet]]) -> tuple[list[DeletedRow], int]:
    since = timezone.now() - dt.timedelta(days=DELETED_KEPT_DAYS)
    result, count = [], 0
    for kind, rows in rows_by_kind:
        late = rows.filter(removed_at__gte=since).order_by("-removed_at", "-pk")
        newest = list(late[:DELETED_SHOWN_MAX])
        count += len(newest) if len(newest) < DELETED_SHOWN_MAX else late.count()
        result += [(kind, row) for row in newest]
    result.sort(key=lambda pair: pair[1].removed_at, reverse=True)
    shown = result[:DELETED_SHOWN_MAX]
    return [DeletedRow(kind, row, kind.words(row)) for kind, row in shown], count - len(shown)


def contents_of(tank: Tank) -> list[tuple[int, str]]:
    """Return what goes with a tank as (count, noun)."""
    return [
        pair
        for kind in REMOVABLE.collect()
        for pair in kind.counted(kind.of_tank(tank).filter(removed_at=None))
    ]


def purge_deleted(*, before: dt.datetime) -> int:
    """Delete for good what was deleted before a moment; return how many rows of their own.

    What hangs on a row goes with it, the files of its photos once the rows are surely gone.
    """
    count = 0
    for kind in REMOVABLE.collect():
        rows = kind.model._base_manager.filter(removed_at__lt=before)
        if kind.kept_for:
            rows = rows.filter(**{f"{kind.kept_for}__isnull": True})
        for pk in list(rows.values_list("pk", flat=True)):
            # One transaction a row: keepers' saves wait for one row at most. Asked anew, since
            # a keeper may have restored it meanwhile.
            with transaction.atomic():
                row = rows.select_for_update(of=("self",)).filter(pk=pk).first()
                if row is not None:
                    row.delete()
                    count += 1
    return count


def page_of_deleted(kind: RemovableKind, row: Removable) -> str:
    """Return the address of the page where a deleted row waits."""
    tank = kind.tank_of(row)
    return reverse("deleted_list") if tank is None else reverse("tank_deleted", args=[tank.pk])


def restore_first(kind: RemovableKind) -> str:
    """Return why a row can't come back alone."""
    return f"What this {kind.noun} belongs to is deleted. Restore that first."


def leads_on_when_deleted(key: str, by: str = "pk"):
    """Lead a keeper on, with a word, who sends a form to a row that is deleted already.

    A page that the browser shows again from its memory offers such forms. `by` names the word of
    the address that holds the row's key. Strangers and viewers are refused as before.
    """

    def decorate(view):
        @wraps(view)
        def guarded(request, *args, **kwargs):
            try:
                return view(request, *args, **kwargs)
            except Http404:
                onward = way_on(request, kind_named(key), pk=kwargs[by])
                if onward is None:
                    raise
                return onward

        return guarded

    return decorate


def way_on(
    request: HttpRequest, kind: RemovableKind, **lookup: object
) -> HttpResponseRedirect | None:
    """Return the redirect to where a deleted row waits, or None where there is none to tell of."""
    try:
        row = writable_row(request.user, kind, **lookup)
    except (Http404, PermissionDenied):
        return None
    if row.removed_at is not None:
        messages.info(request, f"This {kind.noun} was deleted already.")
    elif kind.deleted_above(row):
        messages.info(request, restore_first(kind))
    else:
        return None
    return redirect(page_of_deleted(kind, row))
