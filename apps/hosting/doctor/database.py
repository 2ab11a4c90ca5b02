"""What may be wrong with the database: damage, another version's tables, triggers that are gone."""

import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing

from django.core.cache import cache
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from apps.hosting.doctor.finding import Finding, mend, ok
from apps.hosting.watching.readiness import pending_migrations
from apps.tanks.kept_pages.tables import watched_tables
from apps.tanks.kept_pages.triggers import (
    is_other,
    our_triggers,
    postgres_triggers,
    sqlite_triggers,
)


def database() -> Iterator[Finding]:
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=20)) as file:
            answer = file.execute("PRAGMA quick_check(1)").fetchone()[0]
        if answer != "ok":
            yield mend("database", f"SQLite says: {answer}. Restore the newest backup.")
            return
    if newer := newer_migrations():
        yield too_new(newer)
    elif pending := pending_migrations():
        yield mend("database", f"{pending} migrations are pending: python manage.py migrate")
    else:
        yield ok("database", f"{connection.vendor} answers, and its tables are of today.")


def shared_cache() -> Iterator[Finding]:
    """Whether what all workers count is kept: sign-ins that failed, above all."""
    mark = secrets.token_hex(8)
    cache.set("doctor", mark, 60)
    if cache.get("doctor") == mark:
        yield ok("shared cache", "What is put in is there for all workers.")
    else:
        yield mend("shared cache", "What is put in is not there: see REEFLOG_REDIS_URL.")


def newer_migrations() -> list[str]:
    """Return the migrations that the database had and this code does not know."""
    loader = MigrationLoader(connection)
    replaced = {key for migration in loader.replacements.values() for key in migration.replaces}
    unknown = set(loader.applied_migrations) - set(loader.disk_migrations) - replaced
    return sorted(".".join(key) for key in unknown)


def too_new(newer: list[str]) -> Finding:
    return mend(
        "database",
        f"It was migrated by a newer reeflog ({newer[-1]} is not known here): "
        "run that version, or restore a backup of before.",
    )


def stamps() -> Iterator[Finding]:
    """Whether the triggers are whole by which kept pages learn that a row of theirs changed."""
    ways = {"sqlite": sqlite_triggers, "postgresql": postgres_triggers}
    wanted = {t.name: t for watched in watched_tables() for t in ways[connection.vendor](watched)}
    there = {trigger.name: trigger for trigger in our_triggers(connection)}
    off = [name for name, one in wanted.items() if is_other(one, there.get(name))]
    if off or set(there) - set(wanted):
        yield mend(
            "stamps",
            f"{len(off)} of {len(wanted)} triggers are missing or changed, such as "
            f"{min(off, default='one too many')}: pages may show what was. "
            "python manage.py migrate makes them anew; then delete data/kept.",
        )
    else:
        yield ok("stamps", f"All {len(wanted)} triggers tell kept pages what changed.")
