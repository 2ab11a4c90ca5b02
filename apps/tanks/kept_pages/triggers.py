"""The database itself draws a tank's stamp anew, in the transaction that changes one of its rows.

No write can forget it: not a bulk one, a command, the admin site, nor another program. Made by
`migrate` when all tables are there, and taken off before it moves any: SQLite can't rename a
table that a trigger names.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.utils import CursorWrapper

from apps.tanks.kept_pages.journal import postgres_journal, sqlite_journal
from apps.tanks.kept_pages.models import ALL_TANKS, TankStamp
from apps.tanks.kept_pages.tables import WatchedTable, watched_tables

NAME = "reeflog_stamp"
EVENTS = ("insert", "update", "delete")
# The tables of PostgreSQL that hold the rows a statement touched.
TOUCHED = {
    "insert": ("new_rows",),
    "update": ("old_rows", "new_rows"),
    "delete": ("old_rows",),
}
STAMPS = TankStamp._meta.db_table
# A new number for the tanks and shelves that a query names; in one order, so that two writers never
# deadlock: what all tanks rest on first, as whoever writes on a shelf holds that already.
DRAWN = (
    f"INSERT INTO {STAMPS} (tank_pk, number, head, epoch) "
    "SELECT tank, {random}, 1, {random} FROM ({tanks}) AS changed "
    f"WHERE tank IS NOT NULL ORDER BY tank = {ALL_TANKS} DESC, tank "
    f"ON CONFLICT (tank_pk) DO UPDATE SET number = excluded.number, head = {STAMPS}.head + 1"
)


@dataclass(frozen=True)
class Trigger:
    """A trigger of ours, and the text by which the database remembers what it does."""

    name: str
    table: str
    text: str
    statements: tuple[str, ...] = ()


def make_triggers(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """See to it that every watched table has its triggers as they should be (`post_migrate`)."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    ways = {"sqlite": sqlite_triggers, "postgresql": postgres_triggers}
    # On the way to a version before the stamps there are none.
    watched = [w for w in watched_tables() if w.name in tables] if STAMPS in tables else []
    wanted = {t.name: t for w in watched for t in ways[connection.vendor](w)}
    there = {t.name: t for t in our_triggers(connection)}
    drop(connection, [t for t in there.values() if is_other(t, wanted.get(t.name))])
    with connection.cursor() as cursor:
        for trigger in wanted.values():
            if is_other(trigger, there.get(trigger.name)):
                for sql in trigger.statements:
                    cursor.execute(sql)


def is_other(trigger: Trigger, than: Trigger | None) -> bool:
    return than is None or trigger.text != than.text


def drop_triggers(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Take every trigger of ours off (`pre_migrate`)."""
    drop(connections[using], our_triggers(connections[using]))


def drop(connection: BaseDatabaseWrapper, triggers: Iterable[Trigger]) -> None:
    """Take triggers off their tables."""
    with connection.cursor() as cursor:
        for trigger in triggers:
            on = f" ON {trigger.table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f'DROP TRIGGER "{trigger.name}"{on}')


def our_triggers(connection: BaseDatabaseWrapper) -> list[Trigger]:
    """Return every trigger of ours that a database has."""
    catalogue = {
        "sqlite": "SELECT name, tbl_name, sql FROM sqlite_master "
        "WHERE type = 'trigger' AND name LIKE %s",
        "postgresql": "SELECT tgname, tgrelid::regclass::text, prosrc FROM pg_trigger "
        "JOIN pg_proc ON pg_proc.oid = tgfoid WHERE NOT tgisinternal AND tgname LIKE %s",
    }
    with connection.cursor() as cursor:
        cursor.execute(catalogue[connection.vendor], [f"{NAME}%"])
        return [Trigger(name, table, text) for name, table, text in cursor.fetchall()]


def trigger_functions(cursor: CursorWrapper) -> list[str]:
    """Return the functions of PostgreSQL that our triggers call, as SQL names them."""
    cursor.execute(
        "SELECT oid::regprocedure::text FROM pg_proc WHERE proname LIKE %s", [f"{NAME}%"]
    )
    return [str(name) for (name,) in cursor.fetchall()]


def sqlite_triggers(watched: WatchedTable) -> Iterator[Trigger]:
    """Yield a Trigger for each row that comes, changes or goes."""
    rows = {"insert": ("new",), "update": ("old", "new"), "delete": ("old",)}
    for event in EVENTS:
        name = f"{NAME}_{watched.name}_{event}"
        tanks = " UNION ".join(
            f"SELECT {tank.format(row=row)} AS tank"
            for row in rows[event]
            for tank in watched.stamped_sql
        )
        columns = ", ".join(f'"{column}"' for column in watched.columns)
        of = f" OF {columns}" if columns and event == "update" else ""
        drawn = DRAWN.format(random="random()", tanks=tanks)
        journal = sqlite_journal(watched, event, rows[event])
        does = "; ".join(filter(None, (drawn, journal)))
        sql = (
            f'CREATE TRIGGER "{name}" AFTER {event.upper()}{of} '
            f'ON "{watched.name}" BEGIN {does}; END'
        )
        yield Trigger(name, watched.name, sql, (sql,))


def postgres_triggers(watched: WatchedTable) -> Iterator[Trigger]:
    """Yield a Trigger and its function for each statement: a thousand rows draw one number."""
    renamed = {
        "insert": "NEW TABLE AS new_rows",
        "update": "OLD TABLE AS old_rows NEW TABLE AS new_rows",
        "delete": "OLD TABLE AS old_rows",
    }
    for event in EVENTS:
        name = f"{NAME}_{watched.name}_{event}"
        tanks = tanks_of_rows(watched, event)
        drawn = DRAWN.format(random="floor(random() * 9e15)::bigint", tanks=tanks)
        journal = postgres_journal(watched, event, TOUCHED[event])
        does = f" BEGIN {'; '.join(filter(None, (drawn, journal, 'RETURN NULL')))}; END "
        function = (
            f'CREATE OR REPLACE FUNCTION "{name}"() RETURNS trigger LANGUAGE plpgsql AS $${does}$$'
        )
        trigger = (
            f'CREATE TRIGGER "{name}" AFTER {event.upper()} ON "{watched.name}" '
            f'REFERENCING {renamed[event]} FOR EACH STATEMENT EXECUTE FUNCTION "{name}"()'
        )
        yield Trigger(name, watched.name, does, (function, trigger))


def tanks_of_rows(watched: WatchedTable, event: str) -> str:
    """Return the query for the tanks of the rows that a statement of PostgreSQL changed."""
    every = [
        f"SELECT DISTINCT {tank.format(row='touched')} AS tank FROM {rows} AS touched"
        for rows in TOUCHED[event]
        for tank in watched.stamped_sql
    ]
    if event == "update" and watched.columns:
        before, after = (
            ", ".join(f'{rows}."{column}"' for column in watched.columns) for rows in ("b", "a")
        )
        key = watched.primary_key
        shown = (
            f'touched."{key}" IN (SELECT a."{key}" FROM new_rows AS a JOIN old_rows AS b '
            f'USING ("{key}") WHERE ({before}) IS DISTINCT FROM ({after}))'
        )
        every = [f"{query} WHERE {shown}" for query in every]
    return " UNION ".join(every)
