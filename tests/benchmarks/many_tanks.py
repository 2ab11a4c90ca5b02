"""A site of many keepers, copied by SQL from the tanks of one: ten tanks each.

    laid = lay_site()          # one keeper, ten tanks, 5,000 readings
    grow_site(laid, 10_000)    # 1,000 keepers, 5 million readings, 2 million notes

Every table that holds rows of the first tank is copied by its columns: keys are moved by a stride,
so that copies refer to copies. Rows are alike but for their keys; what is unique is made anew.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import connection, models

from apps.accounts.models import User
from apps.later.models import Job
from apps.tanks.kept_pages.models import RowChange, TankStamp
from apps.tanks.kept_pages.tables import own_models
from apps.tanks.kept_pages.triggers import drop, make_triggers, our_triggers
from tests.benchmarks.three_tanks import Measure, make_measured
from tests.factories import make_user

# More than any table of the first tank has rows.
STRIDE = 10_000
TANKS_A_KEEPER = 10
KEPT = Measure("Kept tank", (90, 45, 45), (2, 1), 10, 50, 20, 12, 200, 50, 2, 730)


@dataclass(frozen=True)
class Laid:
    """The first keeper and tank, and the models whose rows are copied."""

    owner: User
    tank: models.Model
    copied: tuple[type[models.Model], ...]


def lay_site():
    """Make the first keeper with ten tanks that are alike; return them as a Laid."""
    owner = make_user(email="many0@example.org")
    tank = make_measured(owner, KEPT)
    # A job waits once for a subject, and is no part of a tank.
    left = (User, TankStamp, RowChange, Job)
    copied = tuple(m for m in own_models() if m not in left and m._base_manager.exists())
    assert all(m._base_manager.count() < STRIDE for m in copied)
    laid = Laid(owner, tank, copied)
    copy_tanks(laid, 1, TANKS_A_KEEPER)
    return laid


def grow_site(laid, tanks):
    """Let the site grow to so many tanks, ten for each keeper."""
    copy_keepers(laid.owner, tanks // TANKS_A_KEEPER)
    copy_tanks(laid, TANKS_A_KEEPER, tanks)


def copy_keepers(owner, keepers):
    fields = [f for f in User._meta.concrete_fields if f.name not in ("id", "email")]
    names = ", ".join(f'"{f.column}"' for f in fields)
    with numbers(1, keepers) as cursor:
        cursor.execute(
            f"INSERT INTO {User._meta.db_table} (id, email, {names}) "
            f"SELECT t.id + n.i * {STRIDE}, 'many' || n.i || '@example.org', {names} "
            f"FROM {User._meta.db_table} t CROSS JOIN numbers n WHERE t.id = {owner.pk}"
        )


def copy_tanks(laid, first, end):
    """Copy the first tank, and all that goes with it, so often; triggers are off meanwhile."""
    drop(connection, our_triggers(connection))
    with numbers(first, end) as cursor:
        for model in laid.copied:
            cursor.execute(copying(model, set(laid.copied)))
    make_triggers(sender=None, using="default")
    if connection.vendor == "postgresql":
        move_sequences(laid.copied)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


class numbers:
    """A table of whole numbers while it is open; nothing is checked row by row on SQLite."""

    def __init__(self, first, end):
        self.first, self.end = first, end

    def __enter__(self):
        self.cursor = connection.cursor()
        if connection.vendor == "sqlite":
            self.cursor.execute("PRAGMA foreign_keys = OFF")
        self.cursor.execute("CREATE TEMPORARY TABLE numbers (i INTEGER PRIMARY KEY)")
        self.cursor.execute(
            f"WITH RECURSIVE r(i) AS (SELECT {self.first} UNION ALL SELECT i + 1 FROM r "
            f"WHERE i + 1 < {self.end}) INSERT INTO numbers SELECT i FROM r WHERE i < {self.end}"
        )
        return self.cursor

    def __exit__(self, *_problem):
        self.cursor.execute("DROP TABLE numbers")
        if connection.vendor == "sqlite":
            self.cursor.execute("PRAGMA foreign_keys = ON")


def copying(model, copied):
    """Return the SQL that copies a table's first rows, once for each number."""
    table, key = model._meta.db_table, model._meta.pk.column
    pairs = list(columns(model, copied))
    names, values = (", ".join(part) for part in zip(*pairs, strict=True))
    return (
        f'INSERT INTO "{table}" ({names}) SELECT {values} FROM "{table}" t CROSS JOIN numbers n '
        f'WHERE t."{key}" < {STRIDE} ORDER BY n.i, t."{key}"'
    )


def columns(model, copied) -> Iterator[tuple[str, str]]:
    """Yield each column and what a copy has there."""
    for field in model._meta.concrete_fields:
        name = f'"{field.column}"'
        there = field.related_model
        if field.primary_key or there in copied:
            value = f"t.{name} + n.i * {STRIDE}"
        elif there is User:
            value = f"t.{name} + (n.i / {TANKS_A_KEEPER}) * {STRIDE}"
        elif isinstance(field, models.UUIDField):
            value = "NULL" if field.null else random_uuid()
        else:
            value = f"t.{name}"
        yield name, value


def random_uuid():
    return "lower(hex(randomblob(16)))" if connection.vendor == "sqlite" else "gen_random_uuid()"


def move_sequences(copied):
    """Let PostgreSQL go on counting after the rows that were given their keys."""
    with connection.cursor() as cursor:
        for model in (*copied, User):
            table, key = model._meta.db_table, model._meta.pk.column
            cursor.execute(
                f"SELECT setval(pg_get_serial_sequence('{table}', '{key}'), "
                f'(SELECT max("{key}") FROM "{table}"))'
            )
