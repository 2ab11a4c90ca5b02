"""A job is claimed, run and ended, each by one conditional update: delivered twice, it runs once.

Whoever works on a job says every BEAT_S that they live. One who fell silent for LEASE is taken for
dead, and another may claim the job; should the first go on after all, it can end nothing any more.
"""

import datetime as dt
import logging
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.files.base import File
from django.db import OperationalError, connections, transaction
from django.db.models import F, Q, QuerySet
from django.dispatch import Signal
from django.utils import timezone

from apps.later.kinds import KINDS
from apps.later.models import Job, job_path
from apps.later.progress import note_progress

logger = logging.getLogger(__name__)

BEAT_S = 10.0
LEASE = dt.timedelta(seconds=60)
# How often a job begins at most: one that takes its process down each time must end.
TRIES_MAX = 3
# Before a job is begun anew that found no database to work with.
REST = dt.timedelta(seconds=20)
# Sent after each, however it ended, as Django sends one after a request.
job_over = Signal()
# How often a page may learn how far a job is [s].
TELL_S = 0.5
BROKEN = (
    "Something went wrong here. Nothing was changed. "
    "Whoever runs this site can find the error in the log."
)
GIVEN_UP = "This failed three times. Nothing was changed."


class Refused(Exception):
    """A job can't be done as it is; the message says why, in one sentence for its keeper."""


class ClaimLost(Exception):
    """Another took the job over, or its row is gone: what was done since counts no more."""


class Work:
    """A job in the hands of whoever runs it."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.is_settled = False
        self._said_at = -TELL_S

    def progress(self, done: int, of: int, what: str = "") -> None:
        """Say how far it is, in any unit; as often as one likes."""
        if time.monotonic() - self._said_at >= TELL_S:
            self._said_at = time.monotonic()
            note_progress(str(self.job.key), done, of, what)

    def settle(self, outcome: dict[str, object] | None = None, file: str = "") -> None:
        """End the job, within the transaction that it writes in; raise ClaimLost where it may not.

        So all it wrote and the word that it is done hold together, or neither does.
        """
        changes = {"state": Job.State.DONE, "ended_at": timezone.now(), "outcome": outcome or {}}
        if file:
            changes["file"] = file
        if not held_by(self.job).update(**changes):
            raise ClaimLost
        self.is_settled = True

    def settle_with_file(
        self, content: File, suffix: str, outcome: dict[str, object] | None = None
    ) -> None:
        """Settle with a file that it made; one that was sent for it goes.

        Each try has its own path: two may be at it at once, where the first fell silent for a
        while. What a try leaves that dies before it settles is swept (`clearing.py`).
        """
        job, before = self.job, self.job.file.name
        storage, path = job.file.storage, job_path(job, f"-{job.claim.hex}{suffix}")
        path = storage.save(path, content)
        try:
            self.settle(outcome, file=path)
        except ClaimLost:
            storage.delete(path)
            raise
        if before:
            transaction.on_commit(lambda: storage.delete(before), robust=True)


def held_by(job: Job) -> QuerySet:
    """Return the job's row as long as nobody else has claimed it since."""
    rows: QuerySet = Job.objects.filter(pk=job.pk, claim=job.claim, state=Job.State.RUNNING)
    return rows


def due_jobs(now: dt.datetime) -> QuerySet:
    """Return the jobs that may be begun, those whose worker fell silent among them."""
    waits = Q(state=Job.State.WAITING, due_at__lte=now)
    rows: QuerySet = Job.objects.filter(waits | _is_left(now))
    return rows


def _is_left(now: dt.datetime) -> Q:
    return Q(state=Job.State.RUNNING, alive_at__lt=now - LEASE)


def claim(pk: int) -> Job | None:
    """Take a job in hand; None where it is not due, ended, or somebody else's."""
    now, mark = timezone.now(), uuid.uuid4()
    given_up = {"state": Job.State.FAILED, "ended_at": now, "problem": GIVEN_UP}
    spent = Job.objects.filter(_is_left(now), pk=pk, tries__gte=TRIES_MAX)
    if spent.update(**given_up):
        logger.error("Job %s was begun %s times and never ended", pk, TRIES_MAX)
        return None
    taken = due_jobs(now).filter(pk=pk)
    begun = {"state": Job.State.RUNNING, "claim": mark, "alive_at": now}
    if not taken.update(tries=F("tries") + 1, **begun):
        return None
    return Job.objects.select_related("keeper").filter(pk=pk, claim=mark).first()


def run_job(pk: int) -> bool:
    """Run a job unless it is not due or somebody else has it; return whether it was run here."""
    job = claim(pk)
    if job is None:
        return False
    work = Work(job)
    begun = time.monotonic()
    try:
        with _beating(job):
            KINDS[job.name].run(work, **job.arguments)
            if not work.is_settled:
                work.settle()
    except Refused as problem:
        _fail(job, str(problem))
    except ClaimLost:
        logger.warning("Job %s (%s) is somebody else's by now", pk, job.name)
    except OperationalError:
        logger.exception("Job %s (%s) had no database to work with", pk, job.name)
        _put_back(job)
    except Exception:
        logger.exception("Job %s (%s) broke", pk, job.name)
        _fail(job, BROKEN)
    else:
        logger.info("Job %s (%s) took %.2f s", pk, job.name, time.monotonic() - begun)
    finally:
        job_over.send(sender=Job)
    return True


def _fail(job: Job, problem: str) -> None:
    held_by(job).update(state=Job.State.FAILED, ended_at=timezone.now(), problem=problem)


def _put_back(job: Job) -> None:
    """Let it be begun anew a little later, as often as it may."""
    if job.tries >= TRIES_MAX:
        _fail(job, BROKEN)
        return
    # As one whose worker fell silent: of its subject another may wait already.
    held_by(job).update(alive_at=timezone.now() - LEASE + REST)


@contextmanager
def _beating(job: Job) -> Iterator[None]:
    """Say every BEAT_S, from a thread beside the work, that it goes on."""
    over = threading.Event()

    def beat() -> None:
        while not over.wait(BEAT_S):
            try:
                held_by(job).update(alive_at=timezone.now())
            except Exception:
                # Such as a table that the job itself holds: then nobody can claim it either.
                logger.debug("Job %s could not say that it goes on", job.pk, exc_info=True)
            finally:
                connections.close_all()

    thread = threading.Thread(target=beat, name=f"beat of job {job.pk}", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
