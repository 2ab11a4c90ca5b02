"""Keep the site of an earlier commit as a small file: its tables with the demo's rows of its day.

    python -m tests.hosting.old_sites COMMIT 2026-11-26

Run once for the last commit of a day that added a migration, and once a version.
"""

import argparse
import io
import lzma
import os
import sqlite3
import subprocess
import sys
import tarfile
import tempfile
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import connection, transaction

from tests.paths import DATA, ROOT

FOLDER = DATA / "old_sites"


def keep(commit, name):
    """Migrate and fill a database by the code of a commit; write it below `name`."""
    packed = subprocess.run(["git", "archive", commit], cwd=ROOT, check=True, capture_output=True)
    with tempfile.TemporaryDirectory() as scratch:
        code, data = Path(scratch) / "code", Path(scratch) / "data"
        with tarfile.open(fileobj=io.BytesIO(packed.stdout)) as tar:
            tar.extractall(code, filter="data")
        environment = os.environ | {"REEFLOG_DATA_DIR": str(data), "REEFLOG_DEBUG": "on"}
        for command in ("migrate", "load_demo"):
            told = [sys.executable, "manage.py", command, "-v0"]
            subprocess.run(told, cwd=code, env=environment, check=True)
        with closing(sqlite3.connect(data / "reeflog.sqlite3")) as database:
            script = "\n".join(database.iterdump())
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / f"{name}.sql.xz"
    path.write_bytes(lzma.compress(script.encode(), preset=9 | lzma.PRESET_EXTREME))
    return path


def unpack(name, path):
    """Write the database of an earlier day to a file."""
    script = lzma.decompress((FOLDER / f"{name}.sql.xz").read_bytes()).decode()
    with closing(sqlite3.connect(path)) as database:
        database.executescript(script)


@contextmanager
def opened(name, folder, settings):
    """Let the app have the database of an earlier day, in a folder; yield its file of SQLite.

    On PostgreSQL its rows are poured into a database that the migrations of that day made.
    """
    # Its module is of use only once Django is set up, which keeping a site needs not.
    from django.contrib.contenttypes.models import ContentType

    path, stated = folder / "reeflog.sqlite3", connection.settings_dict
    unpack(name, path)
    # Tests have their tables made from the models.
    settings.DATA_DIR, settings.MIGRATION_MODULES = folder, {}
    own = stated["NAME"]
    with database_beside(path) as name_beside:
        connection.close()
        stated["NAME"] = name_beside
        ContentType.objects.clear_cache()
        if connection.vendor == "postgresql":
            pour(path)
        yield path
        connection.close()
        stated["NAME"] = own
        ContentType.objects.clear_cache()


@contextmanager
def database_beside(path):
    """Yield the name of the database that is to be opened: the file, or an empty one beside."""
    if connection.vendor == "sqlite":
        yield str(path)
        return
    from tests.test_migrations import empty_database

    with empty_database(path.parent) as stated:
        yield stated["NAME"]


def pour(path):
    """Migrate an empty database to what a file of SQLite was migrated to, and copy its rows."""
    from django.db.migrations.executor import MigrationExecutor

    with closing(sqlite3.connect(path)) as old:
        applied = set(old.execute("SELECT app, name FROM django_migrations"))
        executor = MigrationExecutor(connection)
        executor.migrate(last_of(applied, executor.loader.graph))
        names = old.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        # Rows name each other in both directions; foreign keys are looked at when all are there.
        with transaction.atomic(), connection.cursor() as cursor:
            for (table,) in names:
                if table not in ("django_migrations", "sqlite_sequence"):
                    pour_table(old, cursor, table)


def last_of(applied, graph):
    """Return the migrations of a set that no other of their app's in it follows."""
    return [
        key
        for key in applied & graph.nodes.keys()
        if not any(after.key in applied and after.key[0] == key[0]
                   for after in graph.node_map[key].children)
    ]  # fmt: skip


def pour_table(old, cursor, table):
    """Copy one table; SQLite has numbers for yes and no, and PostgreSQL counts keys by itself."""
    described = connection.introspection.get_table_description(cursor, table)
    kinds = {c.name: connection.introspection.get_field_type(c.type_code, c) for c in described}
    rows = old.execute(f'SELECT * FROM "{table}"')
    columns = [column[0] for column in rows.description]
    assert set(columns) == set(kinds), table
    yes_or_no = [kinds[column] == "BooleanField" for column in columns]
    given = [
        [bool(v) if b and v is not None else v for v, b in zip(row, yes_or_no, strict=True)]
        for row in rows
    ]
    named = ", ".join(f'"{column}"' for column in columns)
    places = ", ".join(["%s"] * len(columns))
    cursor.executemany(f'INSERT INTO "{table}" ({named}) VALUES ({places})', given)
    for sequence in connection.introspection.get_sequences(cursor, table):
        key = sequence["column"]
        cursor.execute(
            f'SELECT setval(pg_get_serial_sequence(%s, %s), max("{key}")) FROM "{table}"',
            [f'"{table}"', key],
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("commit")
    parser.add_argument("name")
    chosen = parser.parse_args()
    print(keep(chosen.commit, chosen.name))
