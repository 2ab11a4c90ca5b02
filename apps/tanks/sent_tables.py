"""A table that a keeper sent for a tank, which a job reads, or adds, behind the page."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from django.core.exceptions import PermissionDenied
from django.http import Http404

from apps.accounts.models import User
from apps.later.models import Job
from apps.later.queue import job_of
from apps.later.running import Refused, Work
from apps.tanks.access import writable_tank
from apps.tanks.models import Tank

# As after a restore: a backup holds no files of jobs.
GONE = "The table is no longer here. Send it again."
NOT_YOURS = "You can no longer edit this tank. Nothing was added."

Sent = TypeVar("Sent")
# What makes of a job's file what was sent with it.
Reader = Callable[[bytes], Sent]


def sent_before(
    names: Sequence[str], read: Reader[Sent], *, key: str, tank: Tank, by: User
) -> tuple[Job, Sent] | None:
    """Return what a keeper sent for a tank before, with its job of one of the names, or None.

    A job that has not ended may still change the file.
    """
    try:
        job = job_of(names, key=key, keeper=by, arguments={"tank_pk": tank.pk})
        return job and (job, _sent_with(job, read))
    except FileNotFoundError:
        return None


def begun(work: Work, read: Reader[Sent], *, tank_pk: int) -> tuple[Tank, Sent]:
    """Return the tank that a job is about and what was sent for it, or raise Refused."""
    try:
        return writable_tank(work.job.keeper, tank_pk), _sent_with(work.job, read)
    except (Http404, PermissionDenied):
        raise Refused(NOT_YOURS) from None
    except FileNotFoundError:
        raise Refused(GONE) from None


def _sent_with(job: Job, read: Reader[Sent]) -> Sent:
    with job.file.open("rb") as file:
        return read(file.read())
