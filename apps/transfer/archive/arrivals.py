"""Zips that keepers sent and did not say a word on yet: kept a day, one a keeper."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import User
from apps.common.serving.row_locks import hold_row
from apps.later.progress import Progress, unheard
from apps.transfer.archive.account_in import bring_in
from apps.transfer.archive.form import Unfit, UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.preview import previews
from apps.transfer.archive.restoring import Restored
from apps.transfer.models import Arrival

WAITS = dt.timedelta(days=1)
# The memory of what was brought in: a second tap on an old page is led where the first went.
REMEMBERED = dt.timedelta(days=30)
GONE = "This file waited too long and was deleted. Send it again."
REPLACED = "Another zip took the place of this one. Send it again."


@contextmanager
def stored_zip(*, file: UploadedFile, by: User) -> Iterator[Arrival]:
    """Check and store a zip before any row is locked; it goes again unless it was kept meanwhile.

    Raises UnfitZip with one sentence.
    """
    with OpenedZip(file.file) as opened:
        previews(opened, by)
    arrival = Arrival(keeper=by, name=str(file.name or "")[-120:])
    file.seek(0)
    arrival.file.save("", file, save=False)
    try:
        yield arrival
    finally:
        # Saved and rolled back, it is not there either.
        if not Arrival.objects.filter(key=arrival.key).exists():
            arrival.file.delete(save=False)


def keep_arrival(arrival: Arrival) -> None:
    """Keep a stored zip until its keeper says yes, in place of their former one.

    Part of a transaction: the former one's file goes once that holds.
    """
    former = list(Arrival.objects.filter(keeper=arrival.keeper).exclude(file=""))
    Arrival.objects.filter(pk__in=[one.pk for one in former]).update(file="")
    arrival.save()
    transaction.on_commit(lambda: drop_files(former), robust=True)


@contextmanager
def opened_arrival(arrival: Arrival) -> Iterator[OpenedZip]:
    """Open the zip that waits, or raise UnfitZip."""
    try:
        file = arrival.file.open("rb") if arrival.file else None
    except FileNotFoundError:
        file = None
    if file is None:
        newer = Arrival.objects.filter(keeper=arrival.keeper_id, sent_at__gt=arrival.sent_at)
        raise UnfitZip(Unfit.GONE, REPLACED if newer.exists() else GONE)
    with file, OpenedZip(file) as opened:
        yield opened


@transaction.atomic
def import_arrival(arrival: Arrival, progress: Progress = unheard) -> list[Restored]:
    """Store what a zip holds, once: a second call finds it done and returns nothing."""
    arrival = hold_row(Arrival.objects, arrival.pk)
    if arrival.imported_at is not None:
        return []
    with opened_arrival(arrival) as opened:
        result = bring_in(opened, keeper=arrival.keeper, arrival=arrival, progress=progress)
    arrival.imported_at = timezone.now()
    arrival.save(update_fields=["imported_at"])
    transaction.on_commit(lambda: drop_files([arrival]), robust=True)
    return result


def drop_files(arrivals: object) -> None:
    for arrival in arrivals:
        arrival.file.delete(save=False)
        Arrival.objects.filter(pk=arrival.pk).update(file="")


def purge_arrivals(now: dt.datetime) -> int:
    """Delete zips that nobody said a word on; return how many."""
    stale = list(Arrival.objects.exclude(file="").filter(sent_at__lt=now - WAITS))
    drop_files(stale)
    Arrival.objects.filter(file="", sent_at__lt=now - REMEMBERED).delete()
    return len(stale)
