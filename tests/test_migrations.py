"""Migrations make of nothing the very tables the models ask for.

The other tests have their tables made from the models, which takes a tenth of the time.
"""

import subprocess
import sys
from contextlib import contextmanager

from django.apps import apps
from django.db import connection
from django.db.utils import ConnectionHandler

from apps.accounts.models import User
from tests.paths import ROOT
from tests.serving import served_environment

KINDS = ("columns", "primary_key", "unique", "foreign_key", "check", "index")


@contextmanager
def empty_database(folder):
    """Yield the settings of a database with nothing in it, beside the one of the tests."""
    name = str(folder / "empty.sqlite3")
    if connection.vendor == "postgresql":
        name = f"{connection.settings_dict['NAME']}_empty"
        with connection._nodb_cursor() as cursor:
            cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')
            cursor.execute(f'CREATE DATABASE "{name}"')
    yield connection.settings_dict | {"NAME": name}
    if connection.vendor == "postgresql":
        with connection._nodb_cursor() as cursor:
            cursor.execute(f'DROP DATABASE "{name}"')


def own_tables():
    """Return the names of our apps' tables, and of what counts sign-ins."""
    ours = (config for config in apps.get_app_configs() if config.name.startswith("apps."))
    models = (model for config in ours for model in config.get_models(include_auto_created=True))
    return {model._meta.db_table for model in models} | {"shared_cache"}


def tables_of(database):
    """Return {table: (columns, its keys, constraints and indexes)} of ours in plain values."""
    tables, ask = {}, database.introspection
    with database.cursor() as cursor:
        for table in own_tables() & set(ask.table_names(cursor)):
            columns = {
                column.name: (column.type_code, column.null_ok, column.display_size)
                for column in ask.get_table_description(cursor, table)
            }
            rules = ask.get_constraints(cursor, table).values()
            tables[table] = columns, sorted(str([rule[kind] for kind in KINDS]) for rule in rules)
    return tables


def accounts_in(database):
    with database.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*) FROM {User._meta.db_table}")
        return cursor.fetchone()[0]


def test_migrations_make_the_tables_of_the_models(db, tmp_path):
    with empty_database(tmp_path) as told:
        environment = served_environment(tmp_path, database=told)
        command = [sys.executable, "manage.py", "migrate", "-v0"]
        subprocess.run(command, cwd=ROOT, env=environment, check=True)
        migrated = ConnectionHandler({"default": told})["default"]
        made, wanted, accounts = tables_of(migrated), tables_of(connection), accounts_in(migrated)
        migrated.close()
    # Nobody can sign in to a new site before its host lets somebody in.
    assert accounts == 0
    assert wanted.keys() == own_tables() and len(wanted) > 30
    assert made == wanted
