"""What else the triggers of a followed table do: they put down which row was written, and when.

A row stands there once a tank, at its last write: what is read since some write is as long as what
changed, never as long as how often. Of a tank or a keeper that is deleted nothing stays. What lies
in no tank is put down on its keeper's shelf, whose number is the keeper's below zero.
"""

import secrets

from django.db import connection

from apps.tanks.kept_pages.models import ALL_TANKS, RowChange, TankStamp
from apps.tanks.kept_pages.tables import WatchedTable

CHANGES, STAMPS = RowChange._meta.db_table, TankStamp._meta.db_table
# Whose end takes the changes along, and where those lie.
ENDS = {"tanks_tank": "{id}", "accounts_user": "-{id}"}
# For the rows that a query names, each with its tank.
PUT_DOWN = (
    f'INSERT INTO {CHANGES} (tank_pk, "table", row_pk, head, born) '
    "SELECT stamp.tank_pk, '{table}', touched.row_pk, stamp.head, {born} "
    f"FROM {STAMPS} AS stamp JOIN ({{rows}}) AS touched ON touched.tank = stamp.tank_pk "
    "WHERE touched.row_pk IS NOT NULL "
    'ON CONFLICT (tank_pk, "table", row_pk) DO UPDATE SET head = excluded.head'
)


def sqlite_journal(watched: WatchedTable, event: str, rows: tuple[str, ...]) -> str:
    """Return the statement of a row's trigger; `rows` are "old" and "new", as far as it has them.

    Empty for a table that is not followed.
    """
    if event == "delete" and watched.name in ENDS:
        return f"DELETE FROM {CHANGES} WHERE tank_pk = {ENDS[watched.name].format(id='old.id')}"
    if not watched.followed:
        return ""
    named = " UNION ".join(
        f'SELECT {watched.followed_sql.format(row=row)} AS tank, {row}."{watched.followed_column}" '
        "AS row_pk"
        for row in rows
    )
    return PUT_DOWN.format(table=watched.followed, born=born(watched, event), rows=named)


def postgres_journal(watched: WatchedTable, event: str, tables: tuple[str, ...]) -> str:
    """Return the statement of a statement's trigger; `tables` hold the rows it touched.

    Empty for a table that is not followed.
    """
    if event == "delete" and watched.name in ENDS:
        gone = f"SELECT {ENDS[watched.name].format(id='id')} FROM old_rows"
        return f"DELETE FROM {CHANGES} WHERE tank_pk IN ({gone})"
    if not watched.followed:
        return ""
    tank = watched.followed_sql.format(row="one")
    named = " UNION ".join(
        f'SELECT DISTINCT {tank} AS tank, one."{watched.followed_column}" AS row_pk '
        f"FROM {table} AS one"
        for table in tables
    )
    return PUT_DOWN.format(table=watched.followed, born=born(watched, event), rows=named)


def born(watched: WatchedTable, event: str) -> str:
    """Return the SQL of when a row came, by the event that puts it down for the first time."""
    return "stamp.head" if event == "insert" and watched.followed == watched.name else "0"


def begin_epoch() -> None:
    """Let whoever read changes before begin anew: an older moment of the database was put back.

    One from before changes were kept is left as it is.
    """
    if CHANGES not in connection.introspection.table_names():
        return
    epoch = secrets.randbits(62)
    TankStamp.objects.update_or_create(
        pk=ALL_TANKS,
        defaults={"epoch": epoch},
        create_defaults={"epoch": epoch, "number": secrets.randbits(62)},
    )
