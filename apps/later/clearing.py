"""Jobs that ended go after a while, each with its file; so do files that no job names."""

import datetime as dt
from collections.abc import Iterator
from contextlib import suppress

from django.core.files.storage import default_storage
from django.db import transaction

from apps.later.models import JOB_FILES, Job

# A keeper may come back to what was made for them, and a host may look at what failed.
KEPT = dt.timedelta(days=7)
# A younger file may still get its row; one of a job that was killed over it never does.
YOUNG = dt.timedelta(days=1)


def drop_ended_jobs(now: dt.datetime) -> Iterator[str]:
    """Do what `purge_deleted` leaves to this app, and yield a line on it where there was any."""
    count = 0
    for job in Job.objects.filter(ended_at__lt=now - KEPT).iterator():
        job.delete()
        count += 1
    if count:
        yield f"Deleted jobs that ended over a week ago: {count}."
    if left := _drop_left_files(now):
        yield f"Deleted files that no job names: {left}."


def _drop_left_files(now: dt.datetime) -> int:
    """Delete what jobs left that were killed before they ended; return how many files."""
    try:
        names = default_storage.listdir(JOB_FILES)[1]
    except FileNotFoundError:
        return 0
    # Asked after the files, so that whatever has its row by now is named.
    named = set(Job.objects.exclude(file="").values_list("file", flat=True))
    count = 0
    for path in sorted({f"{JOB_FILES}/{name}" for name in names} - named):
        # It may have gone meanwhile, with its job.
        with suppress(FileNotFoundError):
            if default_storage.get_modified_time(path) < now - YOUNG:
                default_storage.delete(path)
                count += 1
    return count


def delete_file_of(*, instance: Job, **_signal: object) -> None:
    """Delete a job's file once the transaction that deletes its row has ended well."""
    if instance.file:
        file = instance.file
        transaction.on_commit(lambda: file.storage.delete(file.name), robust=True)
