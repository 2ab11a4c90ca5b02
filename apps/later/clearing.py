"""Jobs that ended go after a while, each with its file."""

import datetime as dt
from collections.abc import Iterator

from django.db import transaction

from apps.later.models import Job

# A keeper may come back to what was made for them, and a host may look at what failed.
KEPT = dt.timedelta(days=7)


def drop_ended_jobs(now: dt.datetime) -> Iterator[str]:
    """Do what `purge_deleted` leaves to this app, and yield a line on it where there was any."""
    count = 0
    for job in Job.objects.filter(ended_at__lt=now - KEPT).iterator():
        job.delete()
        count += 1
    if count:
        yield f"Deleted jobs that ended over a week ago: {count}."


def delete_file_of(*, instance: Job, **_signal: object) -> None:
    """Delete a job's file once the transaction that deletes its row has ended well."""
    if instance.file:
        file = instance.file
        transaction.on_commit(lambda: file.storage.delete(file.name), robust=True)
