"""What a host's programs ask: is it alive, may it be sent visitors, how does it fare."""

import hmac
import logging
import os
import time
from collections.abc import Callable

from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache

from apps.hosting.watching import metrics

logger = logging.getLogger(__name__)
# Whoever asks more often hears the same again: a bucket is asked over the network [s].
SAME_FOR_S = 5.0


def pending_migrations() -> int:
    """Return how many migrations are still to be applied."""
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def database_answers() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return True


def storage_answers() -> bool:
    if isinstance(default_storage, FileSystemStorage):
        # The folder is made with the first photo.
        return os.access(settings.DATA_DIR, os.W_OK)
    default_storage.exists("ready")
    return True


class Readiness:
    """The answers of a worker, asked anew every few seconds; migrations only until all are done."""

    def __init__(self) -> None:
        self.until, self.answers, self.is_migrated = 0.0, dict[str, bool](), False

    def read(self) -> dict[str, bool]:
        if time.monotonic() >= self.until:
            self.answers = {
                "database": answers(database_answers),
                "storage": answers(storage_answers),
                "migrations": self.is_migrated or answers(lambda: not pending_migrations()),
            }
            self.is_migrated = self.answers["migrations"]
            self.until = time.monotonic() + SAME_FOR_S
        return self.answers


def answers(check: Callable[[], bool]) -> bool:
    """Return what a check says; False where it breaks, which the log explains."""
    try:
        return check()
    except Exception:
        logger.exception("This worker is not ready")
        return False


readiness = Readiness()


@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Say that this worker answers; asks nothing else."""
    return HttpResponse("ok\n", content_type="text/plain; charset=utf-8")


@never_cache
def ready(request: HttpRequest) -> HttpResponse:
    """Say whether visitors may be sent here: 200, or 503 and what is not there."""
    stated = readiness.read()
    words = {name: "ok" if is_ok else "not ready" for name, is_ok in stated.items()}
    return JsonResponse(words, status=200 if all(stated.values()) else 503)


@never_cache
def show_metrics(request: HttpRequest) -> HttpResponse:
    """Show numbers to whoever has the token; without one set there is no such page."""
    if not settings.METRICS_TOKEN:
        return HttpResponse(status=404)
    stated = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not hmac.compare_digest(stated.encode(), settings.METRICS_TOKEN.encode()):
        return HttpResponse(status=401, headers={"WWW-Authenticate": "Bearer"})
    return HttpResponse(metrics.as_text(), content_type="text/plain; version=0.0.4; charset=utf-8")
