"""One thread behind the pages of each process that serves them, for a site without workers.

It runs one job after the other, so that a host runs as many at once as it has serving processes.
It ends with its process; what it was at is taken up by another's (`running.py`).
"""

import datetime as dt
import logging
import random
import threading

from django.db import OperationalError, connections
from django.utils import timezone

from apps.later.models import Job
from apps.later.running import due_jobs, run_job

logger = logging.getLogger(__name__)

# How often it looks without being woken, such as for a job of a process that died [s].
LOOK_S = 20.0
_awake = threading.Event()
_begun = threading.Lock()
_thread: threading.Thread | None = None


def start() -> None:
    """Begin to work in this process; a second call changes nothing."""
    global _thread
    with _begun:
        if _thread is None or not _thread.is_alive():
            _thread = threading.Thread(target=_work, name="jobs", daemon=True)
            _thread.start()


def wake() -> None:
    """Let this process's thread look at once, where there is one; else another's will."""
    _awake.set()


def _work() -> None:
    while True:
        pause_s = LOOK_S * random.uniform(0.5, 1.0)
        _awake.clear()
        try:
            run_due()
            pause_s = min(pause_s, _until_next_s())
        except OperationalError:
            # Another job writes for long, or there is no database for a while.
            logger.warning("Jobs could not be looked at", exc_info=True)
        except Exception:
            # Such as tables that are not made yet.
            logger.exception("Jobs could not be looked at")
        finally:
            connections.close_all()
        _awake.wait(pause_s)


def run_due() -> int:
    """Run what is due, one after the other; return how many were run here."""
    count = 0
    tried: set[int] = set()
    while (pk := _first_due(tried)) is not None:
        tried.add(pk)
        count += run_job(pk)
    return count


def _first_due(tried: set[int]) -> int | None:
    due = due_jobs(timezone.now()).exclude(pk__in=tried).order_by("due_at", "pk")
    pk: int | None = due.values_list("pk", flat=True).first()
    return pk


def _until_next_s() -> float:
    """Return for how long nothing that waits is due [s]."""
    waiting = Job.objects.filter(state=Job.State.WAITING).order_by("due_at")
    due_at: dt.datetime | None = waiting.values_list("due_at", flat=True).first()
    if due_at is None:
        return LOOK_S
    return max(0.05, (due_at - timezone.now()).total_seconds())
