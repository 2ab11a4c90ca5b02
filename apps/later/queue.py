"""Jobs are put down as rows, and handed to whatever works on them once their transaction holds.

    job = put_down("bring_in", keeper=user, arguments={"arrival_pk": arrival.pk})
    put_down_once("warm_light", subject=f"tank {tank.pk}", arguments=..., delay=WAIT)

What works on them is a setting: a thread of each process that serves pages (`behind.py`), Celery's
workers (`celery_queue.py`), or the process itself, at once (tests). A row is what counts: whatever
is lost on the way to a worker is taken up again from there (`running.due_jobs`).
"""

import datetime as dt
import logging
from collections.abc import Mapping, Sequence

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.base import File
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import User
from apps.later import behind
from apps.later.kinds import KINDS
from apps.later.models import UNFINISHED, Job
from apps.later.running import run_job

logger = logging.getLogger(__name__)

AT_ONCE, THREAD, CELERY = "at-once", "thread", "celery"
# One that waits is put off by what comes meanwhile, but no longer than this in all.
PUT_OFF_MAX = dt.timedelta(seconds=30)


def put_down(
    name: str,
    *,
    keeper: User | None = None,
    arguments: Mapping[str, object] | None = None,
    file: File | None = None,
    subject: str = "",
) -> Job:
    """Make a job as a part of the transaction that needs it, and let it run once that holds."""
    job = Job(name=name, keeper=keeper, arguments=dict(arguments or {}), subject=subject)
    if file is not None:
        job.file.save("", file, save=False)
    try:
        with transaction.atomic():
            job.save(force_insert=True)
    except IntegrityError:
        if job.file:
            job.file.delete(save=False)
        raise
    transaction.on_commit(lambda: hand_over(job.pk), robust=True)
    return job


def put_down_unless_there(
    name: str,
    *,
    subject: str,
    keeper: User,
    arguments: Mapping[str, object],
    file: File | None = None,
) -> Job:
    """Return a keeper's job of a name and subject that has not ended; make it where none is."""
    mine = Job.objects.filter(name=name, subject=subject, keeper=keeper, state__in=UNFINISHED)
    if (job := mine.first()) is not None:
        return job
    try:
        return put_down(name, keeper=keeper, arguments=arguments, file=file, subject=subject)
    except IntegrityError:
        # A second click put it down meanwhile; it may have ended since.
        there = Job.objects.filter(name=name, subject=subject, keeper=keeper).order_by("-pk")
        if (job := there.first()) is None:
            raise
        return job


def job_of(
    names: Sequence[str], *, key: str, keeper: User, arguments: Mapping[str, object]
) -> Job | None:
    """Return a keeper's job of one of the names by its key; None for a key that is none, too."""
    try:
        jobs = Job.objects.filter(name__in=names, key=key, keeper=keeper)
        job: Job | None = jobs.filter(arguments=dict(arguments)).first()
    except (ValidationError, ValueError):
        return None
    return job


def under_way(
    name: str, *, keeper: User | None, arguments: Mapping[str, object] | None = None
) -> Job | None:
    """Return a job of a name, and of these arguments, that has not ended; else None.

    It is a keeper's, or the site's own (`keeper` None).
    """
    jobs = Job.objects.filter(name=name, keeper=keeper)
    if arguments is not None:
        jobs = jobs.filter(arguments=dict(arguments))
    job: Job | None = jobs.filter(state__in=UNFINISHED).first()
    return job


def put_down_once(
    name: str, *, subject: str, arguments: Mapping[str, object], delay: dt.timedelta
) -> None:
    """Let a job run a while after this transaction holds; one that waits already is put off.

    Only once the transaction holds, so that the job never begins before what it is about is
    there for it to read.
    """
    if KINDS[name].only_behind and not is_behind():
        return
    # What was saved holds whatever becomes of this, and so does what else waits for its commit;
    # Django logs what goes wrong.
    transaction.on_commit(lambda: _wait_once(name, subject, dict(arguments), delay), robust=True)


def is_behind() -> bool:
    """Return whether jobs run behind the pages, not while somebody waits."""
    return bool(settings.JOBS != AT_ONCE)


def has_workers() -> bool:
    """Return whether jobs go to workers of their own, so that a command may leave work to them."""
    return bool(settings.JOBS == CELERY)


def _wait_once(name: str, subject: str, arguments: dict[str, object], delay: dt.timedelta) -> None:
    now = timezone.now()
    waiting = Job.objects.filter(name=name, subject=subject, state=Job.State.WAITING)
    if (there := waiting.first()) is not None:
        due_at = min(now + delay, there.made_at + PUT_OFF_MAX)
        # A thousand rows of one form put it off once.
        if due_at - there.due_at < delay / 4 or waiting.filter(pk=there.pk).update(due_at=due_at):
            return
    job = Job(name=name, subject=subject, arguments=arguments, made_at=now, due_at=now + delay)
    # Another may have put one down meanwhile: theirs begins after this moment, too.
    Job.objects.bulk_create([job], ignore_conflicts=True)
    job = waiting.first()
    if job is not None:
        hand_over(job.pk, delay, can_wait=KINDS[name].stands_back)


def hand_over(pk: int, delay: dt.timedelta = dt.timedelta(), *, can_wait: bool = False) -> None:
    """Let whatever works on jobs know of one; never fails, since the row is there."""
    if settings.JOBS == CELERY:
        from apps.later.celery_queue import send

        send(pk, delay)
    elif settings.JOBS == THREAD:
        behind.wake_when_quiet() if can_wait else behind.wake()
    else:
        run_job(pk)
