"""Which tables a tank's pages rest on, and how a row of each leads to its tank.

Found by the models themselves, so that a new table is watched as soon as it is there. A model
that no page of a tank shows says so by `UNSHOWN = True`; `UNSHOWN_FIELDS` names fields whose
change no page shows, such as a count of openings. `FOLLOWED` names the field whose row is told to
programs as changed (`journal.py`): "id" for the row itself, else a key to what it is a part of.
Where it lies in no tank, `KEEPER` names the way to the keeper who alone may read it, and
`KEEPER_UNLESS` what makes it somebody else's: it is put down on that keeper's own shelf.
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
    # The SQL of where that is put down: the row's tank, or the number of a keeper's shelf.
    followed_sql: str = ""

    @property
    def stamped_sql(self) -> tuple[str, ...]:
        """The SQL of all that a row `{row}` draws a new number for."""
        is_other = self.followed and self.followed_sql != self.tank_sql
        return (self.tank_sql, self.followed_sql) if is_other else (self.tank_sql,)


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
    tank_sql = str(ALL_TANKS) if path is None else sql_of(model, path)
    return WatchedTable(
        name=model._meta.db_table,
        primary_key=model._meta.pk.column,
        tank_sql=tank_sql,
        columns=tuple(f.column for f in fields if f.name not in unshown) if unshown else (),
        followed=(key.related_model or model)._meta.db_table if key else "",
        followed_column=key.column if key else "",
        followed_sql=followed_sql(model, None if path is None else tank_sql) if key else "",
    )


def followed_sql(model: type[models.Model], tank_sql: str | None) -> str:
    """Return the SQL of where a change of a row `{row}` is put down, null for nowhere.

    `tank_sql` is that of the row's tank, None where no tank holds such rows.
    """
    if not hasattr(model, "KEEPER"):
        assert tank_sql is not None, f"{model.__name__} has neither a tank nor a KEEPER."
        return tank_sql
    shelf = f"-({sql_of(model, way_along(model, model.KEEPER))})"
    unless = getattr(model, "KEEPER_UNLESS", "")
    if unless:
        others = sql_of(model, way_along(model, unless))
        shelf = f"CASE WHEN {others} IS NULL THEN {shelf} END"
    return shelf if tank_sql is None else f"COALESCE({tank_sql}, {shelf})"


def shelf_of(keeper_pk: int) -> int:
    """Return the number by which a keeper's own rows are put down: no tank has it."""
    return -keeper_pk


def way_along(model: type[models.Model], lookup: str) -> tuple[models.Field, ...]:
    """Return the foreign keys of a lookup such as "meter__owner"."""
    way = []
    for name in lookup.split("__"):
        way.append(model._meta.get_field(name))
        model = way[-1].related_model
    return tuple(way)


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
