"""Which tables a tank's pages rest on, and how a row of each leads to its tank.

Found by the models themselves, so that a new table is watched as soon as it is there. A model
that no page of a tank shows says so by `UNSHOWN = True`; `UNSHOWN_FIELDS` names fields whose
change no page shows, such as a count of openings. `FOLLOWED` names the field whose row is told to
programs as changed (`journal.py`): "id" for the row itself, else a key to what it is a part of.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.db import models

from apps.tanks.kept_pages.models import ALL_TANKS, TankStamp

TANK = "tanks.Tank"


@dataclass(frozen=True)
class WatchedTable:
    """A table, the SQL of the tank that a row `{row}` belongs to, and what of it is shown."""

    name: str
    primary_key: str
    tank_sql: str
    # Columns whose change alone counts; empty where any does.
    columns: tuple[str, ...] = ()
    # The table whose row is told as changed, and the column that names it; empty for none.
    followed: str = ""
    followed_column: str = ""


def watched_tables() -> list[WatchedTable]:
    """Return a WatchedTable for every table of ours whose rows a tank's page may show."""
    return [watched for model in own_models() if (watched := watched_table(model))]


def own_models() -> Iterator[type[models.Model]]:
    """Yield every model with a table that one of our apps made, those between two included."""
    for config in apps.get_app_configs():
        if config.name.startswith("apps."):
            yield from config.get_models(include_auto_created=True)


def watched_table(model: type[models.Model]) -> WatchedTable | None:
    """Return the WatchedTable of a model; None where no page of a tank shows its rows."""
    if model is TankStamp or getattr(model, "UNSHOWN", False):
        return None
    path = path_to_tank(model)
    unshown = getattr(model, "UNSHOWN_FIELDS", frozenset())
    fields = model._meta.concrete_fields
    key = followed_key(model)
    return WatchedTable(
        name=model._meta.db_table,
        primary_key=model._meta.pk.column,
        tank_sql=str(ALL_TANKS) if path is None else sql_of(model, path),
        columns=tuple(f.column for f in fields if f.name not in unshown) if unshown else (),
        followed=(key.related_model or model)._meta.db_table if key else "",
        followed_column=key.column if key else "",
    )


def followed_key(model: type[models.Model]) -> models.Field | None:
    """Return the field that names the row told as changed; None for a model without one."""
    name = getattr(model, "FOLLOWED", "")
    return model._meta.get_field(name) if name else None


def path_to_tank(model: type[models.Model]) -> tuple[models.Field, ...] | None:
    """Return the shortest way from a model to Tank by its foreign keys; None where none leads."""
    ways: list[tuple[type[models.Model], tuple[models.Field, ...]]] = [(model, ())]
    seen = {model}
    for here, way in ways:
        if here._meta.label == TANK:
            return way
        for key in here._meta.concrete_fields:
            there = key.related_model
            if there is None or there in seen:
                continue
            seen.add(there)
            ways.append((there, (*way, key)))
    return None


def sql_of(model: type[models.Model], way: tuple[models.Field, ...]) -> str:
    """Return the SQL of the tank of a row `{row}`: its own key, or one asked for step by step."""
    if not way:
        return f'{{row}}."{model._meta.pk.column}"'
    sql = f'{{row}}."{way[0].column}"'
    for key in way[1:]:
        here = key.model._meta
        sql = f'(SELECT "{key.column}" FROM "{here.db_table}" WHERE "{here.pk.column}" = {sql})'
    return sql
