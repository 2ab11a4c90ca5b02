"""How it is with all jobs of a site, for its host."""

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Count

from apps.later.models import Job
from apps.later.running import due_jobs

# A job that waits longer than this has nobody who works on it.
STUCK = dt.timedelta(minutes=10)


@dataclass(frozen=True)
class JobsState:
    """Counts of jobs at one moment; those that ended are counted for a week (`clearing.py`)."""

    waiting: int
    running: int
    failed: int
    # Waiting, or left by whoever worked on them, for longer than STUCK.
    stuck: int


def jobs_state(now: dt.datetime) -> JobsState:
    """Return the JobsState by two queries."""
    counts = dict(Job.objects.values_list("state").annotate(Count("pk")).order_by())
    return JobsState(
        waiting=counts.get(Job.State.WAITING, 0),
        running=counts.get(Job.State.RUNNING, 0),
        failed=counts.get(Job.State.FAILED, 0),
        stuck=due_jobs(now - STUCK).count(),
    )


def workers() -> int | None:
    """Return how many workers of Celery answer, None where the site has none of its own.

    Raises what the broker's client raises when the broker is away.
    """
    if not settings.CELERY_BROKER:
        return None
    from apps.later.celery_queue import answering_workers

    return answering_workers()
