"""What a host should know before `migrate`: the way forward, the way back, and room for both."""

import datetime as dt
import shutil
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations import DeleteModel, Migration, RemoveField
from django.db.migrations.executor import MigrationExecutor

from apps.hosting.doctor.checks import backups
from apps.hosting.doctor.database import newer_migrations, too_new
from apps.hosting.doctor.finding import Finding, look, mend, ok

BACKUP_AGE_MAX = dt.timedelta(days=1)
MB = 1_000_000
# A copy of the database, and the table that is being made anew beside its old one.
COPIES = 2


def look_ahead(folder: Path | None, now: dt.datetime) -> Iterator[Finding]:
    """Yield what speaks for and against migrating now; `folder` is where backups lie."""
    if newer := newer_migrations():
        yield too_new(newer)
        return
    executor = MigrationExecutor(connection)
    plan = [one for one, _ in executor.migration_plan(executor.loader.graph.leaf_nodes())]
    yield _count(plan)
    yield from losses(plan)
    yield _room()
    if folder is None:
        yield mend("backup", "Say where backups lie: --backups FOLDER")
    else:
        yield backups(folder, now, BACKUP_AGE_MAX)


def _count(plan: list[Migration]) -> Finding:
    if not plan:
        return ok("database", f"Its tables are of {settings.VERSION} already: nothing to migrate.")
    names = ", ".join(f"{one.app_label}.{one.name}" for one in plan)
    return ok("database", f"To {settings.VERSION} by {len(plan)} migrations: {names}")


def losses(plan: list[Migration]) -> Iterator[Finding]:
    """Say which migrations delete columns or tables, and which can't be taken back."""
    for one in plan:
        name = f"{one.app_label}.{one.name}"
        for step in one.operations:
            if isinstance(step, DeleteModel | RemoveField):
                yield look("deletes", f"{name}: {step.describe()}")
        if not all(step.reversible for step in one.operations):
            yield look("no way back", f"{name} can't be undone: only a backup leads back.")


def _room() -> Finding:
    needed_mb = COPIES * database_bytes() / MB
    free_mb = shutil.disk_usage(settings.DATA_DIR).free / MB
    words = f"{free_mb:.0f} MB free in {settings.DATA_DIR}, {needed_mb:.0f} MB needed."
    return (ok if free_mb >= needed_mb else mend)("disk", words)


def database_bytes() -> int:
    """Return how large the database is [bytes]."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size")
        else:
            cursor.execute("SELECT pg_database_size(current_database())")
        return int(cursor.fetchone()[0])
