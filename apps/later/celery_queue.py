"""Jobs on Celery's workers, where a host runs them (`REEFLOG_CELERY_BROKER`); loaded only there.

    celery -A reeflog worker

A message holds the number of a job's row and no more. It may come twice or never: the row decides
(`running.py`), and a worker sends again what waits or was left for longer than it should.
"""

import datetime as dt
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from celery import Celery
from celery.signals import setup_logging, worker_ready
from django.conf import settings
from django.core.cache import cache
from django.db import connections
from django.utils import timezone
from kombu.connection import Connection
from kombu.exceptions import OperationalError as BrokerAway
from kombu.messaging import Producer
from redis.exceptions import RedisError

from apps.later.models import Job
from apps.later.running import due_jobs, run_job

logger = logging.getLogger(__name__)

# How long a worker, and a page that puts a job down, waits for the broker [s].
BROKER_S = 3
# How often a worker looks for jobs whose message was lost, and how late these must be [s].
LOOK_S = 20.0
LATE = dt.timedelta(seconds=20)
# So long a try that was sent again is not, by any worker: behind a long queue all wait [s].
SENT_AGAIN_S = 120
RUN = "later.run"
# A line that a broker closed meanwhile is opened anew; more is left to the look.
ONCE_MORE = {"max_retries": 1, "interval_start": 0, "interval_step": 0}
# Whoever only asks how it is learns by the first failure that it is not well.
OPENED_ONCE = {"max_retries": 0}

app = Celery("reeflog", broker=settings.CELERY_BROKER)
app.conf.update(
    # A message is done with once its job is: of a worker that is killed another gets it.
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    # None is held back by a worker that is busy with a long one.
    worker_prefetch_multiplier=1,
    task_ignore_result=True,
    task_serializer="json",
    accept_content=["json"],
    timezone="UTC",
    worker_hijack_root_logger=False,
    broker_connection_retry_on_startup=True,
    broker_connection_timeout=BROKER_S,
    broker_transport_options={
        "socket_connect_timeout": BROKER_S,
        # One that stalls ends a line that is open, too. A worker's own wait for messages ends
        # sooner: Kombu asks for a second at a time.
        "socket_timeout": BROKER_S,
        # A Redis that counts for the pages too keeps the two apart.
        "global_keyprefix": "reeflog-jobs-",
    },
)


@app.task(name=RUN)
def run(pk: int) -> None:
    """Run a job if it is due; one that was put off meanwhile is sent for its new moment."""
    if run_job(pk):
        return
    waiting = Job.objects.filter(pk=pk, state=Job.State.WAITING).first()
    if waiting is not None:
        send(pk, max(waiting.due_at - timezone.now(), dt.timedelta()))


def send(pk: int, delay: dt.timedelta = dt.timedelta()) -> bool:
    """Send a job's message; without a broker the row waits until a worker looks for it."""
    try:
        run.apply_async((pk,), countdown=delay.total_seconds(), retry_policy=ONCE_MORE)
    except (BrokerAway, RedisError, OSError):
        logger.exception("Job %s waits: the broker of REEFLOG_CELERY_BROKER is away", pk)
        return False
    return True


def send_again() -> int:
    """Send what is late, or was left by a worker that died; return how many were sent."""
    late = due_jobs(timezone.now() - LATE).order_by("due_at", "pk")
    count = 0
    for pk, key, tries in late.values_list("pk", "key", "tries"):
        mark = f"job-sent-{key}-{tries}"
        if not cache.add(mark, 1, SENT_AGAIN_S):
            continue
        if not send(pk):
            # The others would only wait for it, too; the next look tries all.
            cache.delete(mark)
            break
        count += 1
    return count


class SentOnce(Producer):
    """Sends by its one line or fails: told to try again, Kombu would do so for ever."""

    def publish(self, *args: Any, **options: Any) -> Any:
        options["retry"] = False
        return super().publish(*args, **options)  # type: ignore[no-untyped-call]


class OneLine:
    """Stands for a pool of producers; each of that of the app has a line of its own."""

    def __init__(self, line: Connection) -> None:
        self.line = line

    @contextmanager
    def acquire(self) -> Iterator[Producer]:
        channel = self.line.default_channel
        yield SentOnce(channel, auto_declare=False)  # type: ignore[no-untyped-call]


def answering_workers() -> int:
    """Return how many workers answer; raises what the broker raises when it is away.

    Also where it goes between two steps of it: all go by one line, which is opened once.
    """
    with app.connection_for_write(transport_options=OPENED_ONCE) as line:
        line.ensure_connection(max_retries=0, timeout=BROKER_S)
        mailbox = app.control.mailbox(line)
        mailbox.producer_pool = OneLine(line)
        return len(mailbox.multi_call("ping", timeout=BROKER_S))


@setup_logging.connect
def leave_logging_alone(**_signal: Any) -> None:
    """Log as the pages do: settings.LOGGING has been set up by Django."""


@worker_ready.connect
def look_now_and_then(**_signal: Any) -> None:
    threading.Thread(target=_look, name="late jobs", daemon=True).start()


def _look() -> None:
    pause = threading.Event()
    while True:
        try:
            send_again()
        except Exception:
            logger.exception("Late jobs could not be looked for")
        finally:
            connections.close_all()
        pause.wait(LOOK_S)
