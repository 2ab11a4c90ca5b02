"""One moment of the database while others write to it, as a file and as what it holds.

A moment is a reading transaction that is held open: the files that its rows name are asked first,
since those are what keepers may delete meanwhile, and the copy, which takes long, is made after.
"""

import os
import shutil
import sqlite3
import subprocess
from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import FileField, Model
from django.db.utils import ConnectionHandler

from apps.hosting.backup.form import UnfitBackup
from apps.later.models import JOB_FILES

# Where Debian keeps the programs of PostgreSQL when they are not on the path.
POSTGRES_FOLDERS = "/usr/lib/postgresql"


@dataclass(frozen=True)
class Contents:
    """What a database holds: rows by table, migrations applied, lasting files its rows name."""

    tables: dict[str, int]
    migrations: list[str]
    files: frozenset[str]


def contents_of(database: BaseDatabaseWrapper) -> Contents:
    """Read what a database holds; its tables may be older than the models of today."""
    with database.cursor() as cursor:
        names = sorted(database.introspection.table_names(cursor))
        tables = {}
        for name in names:
            cursor.execute(f"SELECT COUNT(*) FROM {database.ops.quote_name(name)}")
            tables[name] = cursor.fetchone()[0]
    applied = MigrationRecorder(database).applied_migrations()
    return Contents(tables, sorted(".".join(key) for key in applied), files_of(database))


def files_of(database: BaseDatabaseWrapper) -> frozenset[str]:
    """Return the lasting files that its rows name; its tables may be older than the models."""
    with database.cursor() as cursor:
        names = database.introspection.table_names(cursor)
    return lasting(path for model in apps.get_models() for path in _named(model, database, names))


def lasting(paths: Iterable[str]) -> frozenset[str]:
    """Return the paths without those of jobs: a zip that was written, a table yet to be read.

    They go within a week, can be made or sent again, and may be as large as all photos.
    """
    return frozenset(path for path in paths if not path.startswith(f"{JOB_FILES}/"))


def _named(model: type[Model], database: BaseDatabaseWrapper, names: list[str]) -> Iterator[str]:
    table, quote = model._meta.db_table, database.ops.quote_name
    fields = [f for f in model._meta.concrete_fields if isinstance(f, FileField)]
    if not fields or table not in names:
        return
    with database.cursor() as cursor:
        described = database.introspection.get_table_description(cursor, table)
        columns = {column.name for column in described} & {field.column for field in fields}
        for column in sorted(columns):
            cursor.execute(
                f"SELECT {quote(column)} FROM {quote(table)} "
                f"WHERE {quote(column)} IS NOT NULL AND {quote(column)} <> ''"
            )
            yield from (row[0] for row in cursor.fetchall())


@contextmanager
def opened(path: Path) -> Iterator[BaseDatabaseWrapper]:
    """Open a SQLite file that lies beside the app's own."""
    stated = connection.settings_dict | {"NAME": str(path), "OPTIONS": {}}
    database = ConnectionHandler({"default": stated})["default"]
    try:
        yield database
    finally:
        database.close()


@contextmanager
def moment_held() -> Iterator["Moment"]:
    """Hold one moment of the database, whatever others write."""
    held = connection.copy()
    is_sqlite = held.vendor == "sqlite"
    try:
        with held.cursor() as cursor:
            # As words to the database: Django's own transactions on SQLite are a writer's.
            level = "" if is_sqlite else " ISOLATION LEVEL REPEATABLE READ READ ONLY"
            cursor.execute(f"BEGIN{level}")
            yield (_SqliteMoment if is_sqlite else _PostgresMoment)(held)
            cursor.execute("ROLLBACK")
    finally:
        held.close()


class Moment(ABC):
    """What the database held when it was opened."""

    def __init__(self, database: BaseDatabaseWrapper) -> None:
        self.database = database

    def files(self) -> frozenset[str]:
        """The files that its rows name."""
        return files_of(self.database)

    def contents(self) -> Contents:
        """Read all that `Contents` tells."""
        return contents_of(self.database)

    @abstractmethod
    def write(self, target: Path) -> None:
        """Write the moment to a new file."""


class _SqliteMoment(Moment):
    def write(self, target: Path) -> None:
        source: sqlite3.Connection = self.database.connection
        with closing(sqlite3.connect(target)) as copy:
            # By the connection that reads already: its view, which holds up no writer in WAL.
            source.backup(copy, pages=-1)
            # One file alone, without a log beside it.
            copy.execute("PRAGMA journal_mode=DELETE")
            refuse_unsound(copy)


class _PostgresMoment(Moment):
    def write(self, target: Path) -> None:
        with self.database.cursor() as cursor:
            cursor.execute("SELECT pg_export_snapshot()")
            snapshot = cursor.fetchone()[0]
        run_postgres("pg_dump", "--format=custom", f"--snapshot={snapshot}", f"--file={target}")


def refuse_unsound(database: sqlite3.Connection) -> None:
    """Raise UnfitBackup unless SQLite calls a file whole."""
    try:
        answer = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except sqlite3.DatabaseError as problem:
        raise UnfitBackup("SQLite can't read its database.") from problem
    if answer != "ok":
        raise UnfitBackup(f"SQLite says that its database is damaged: {answer}.")


def run_postgres(program: str, *options: str, with_database: bool = True) -> None:
    """Run a program of PostgreSQL on the app's database, or raise UnfitBackup."""
    stated: dict[str, Any] = connection.settings_dict
    known = {"PGHOST": stated["HOST"], "PGPORT": stated["PORT"], "PGUSER": stated["USER"],
             "PGPASSWORD": stated["PASSWORD"], "PGDATABASE": stated["NAME"]}  # fmt: skip
    given = {name: str(value) for name, value in known.items() if value} if with_database else {}
    done = subprocess.run(
        [_program(program), *options],
        env=os.environ | given,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        said = done.stderr.strip().splitlines() or ["no reason given"]
        cause = next((line for line in said if "ERROR:" in line), said[-1])
        raise UnfitBackup(f"{program} failed: {cause}")


def _program(name: str) -> str:
    if on_path := shutil.which(name):
        return on_path
    beside = sorted(Path(POSTGRES_FOLDERS).glob(f"*/bin/{name}"))
    if not beside:
        raise UnfitBackup(f"{name} is not installed here (on Debian: postgresql-client).")
    return str(beside[-1])
