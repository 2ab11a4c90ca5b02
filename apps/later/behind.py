"""One thread behind the pages of each process that serves them, for a site without workers.

It runs one job after the other, so that a host runs as many at once as it has serving processes.
It ends with its process; what it was at is taken up by another's (`running.py`).

What is made ahead of those who may ask (`stands_back`) waits while its process is busy with pages,
whose turns it would take. Where that lasts it is left out: then pages make it themselves.
"""

import datetime as dt
import logging
import random
import threading
import time

from django.db import OperationalError, connections
from django.utils import timezone

from apps.common.serving.frame_room import with_frame_room
from apps.later.kinds import KINDS
from apps.later.models import Job
from apps.later.running import due_jobs, run_job
from apps.later.traffic import TRAFFIC

logger = logging.getLogger(__name__)

# How often it looks without being woken, such as for a job of a process that died [s].
LOOK_S = 20.0
# How often it asks whether pages have come to rest, while something stands back [s].
ASK_S = 0.5
# So long a job stands back; less than a host is told that one is stuck (`state.STUCK`).
PATIENCE = dt.timedelta(minutes=5)
_awake, _stands_back = threading.Event(), threading.Event()
_begun = threading.Lock()
_thread: threading.Thread | None = None


def start() -> None:
    """Begin to work in this process; a second call changes nothing."""
    global _thread
    with _begun:
        if _thread is None or not _thread.is_alive():
            _thread = threading.Thread(target=with_frame_room(_work), name="jobs", daemon=True)
            _thread.start()


def wake() -> None:
    """Let this process's thread look at once, where there is one; else another's will."""
    _awake.set()


def wake_when_quiet() -> None:
    """Let this process's thread look once it is not busy with pages."""
    _stands_back.set()


def _work() -> None:
    while True:
        pause_s = LOOK_S * random.uniform(0.5, 1.0)
        _awake.clear()
        _stands_back.clear()
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
        _wait(pause_s)


def _wait(pause_s: float) -> None:
    """Wait so long [s], or until woken, or until what stands back may go on."""
    until = time.monotonic() + pause_s
    while (left_s := until - time.monotonic()) > 0:
        if _awake.wait(min(left_s, ASK_S)):
            return
        if _stands_back.is_set() and not TRAFFIC.is_busy:
            return


def run_due() -> int:
    """Run what is due, one after the other; return how many were run here."""
    leave_out()
    count = 0
    tried: set[int] = set()
    while (pk := _first_due(tried)) is not None:
        tried.add(pk)
        count += run_job(pk)
    return count


def leave_out() -> int:
    """End what stood back for PATIENCE while this process is still busy; return how many."""
    now = timezone.now()
    late = due_jobs(now).filter(name__in=_standing_back(), made_at__lt=now - PATIENCE)
    count: int = late.update(state=Job.State.DONE, ended_at=now, outcome={"left_out": True})
    return count


def _standing_back() -> list[str]:
    """Return the kinds of job that wait now; whoever looks past them is to look again."""
    names = [name for name, kind in KINDS.items() if kind.stands_back and TRAFFIC.is_busy]
    if names:
        _stands_back.set()
    return names


def _first_due(tried: set[int]) -> int | None:
    due = due_jobs(timezone.now()).exclude(pk__in=tried).exclude(name__in=_standing_back())
    due = due.order_by("due_at", "pk")
    pk: int | None = due.values_list("pk", flat=True).first()
    return pk


def _until_next_s() -> float:
    """Return for how long nothing that waits is due [s]."""
    waiting = Job.objects.filter(state=Job.State.WAITING).exclude(name__in=_standing_back())
    waiting = waiting.order_by("due_at")
    due_at: dt.datetime | None = waiting.values_list("due_at", flat=True).first()
    if due_at is None:
        return LOOK_S
    return max(0.05, (due_at - timezone.now()).total_seconds())
