"""Whether a worker may be sent visitors: its database, its photos, its tables."""

import logging
import os
import time
from collections.abc import Callable

from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

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
