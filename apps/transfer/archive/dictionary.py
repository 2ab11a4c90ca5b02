"""What each column of a zip holds: its type, its unit and what it means."""

from collections.abc import Iterable

from django.db import models
from django.db.models import Field, Model

from apps.transfer.archive.tables import row_fields, table_name

Words = dict[str, object]

# By how a name ends, the longest ending first.
UNITS = {
    "_umol_s": "umol s-1",
    "_umol_j": "umol J-1",
    "_umol": "umol m-2 s-1 (PAR, 400-700 nm; of a lux meter's raw value: lx)",
    "_mol": "mol m-2 d-1",
    "_cm2": "cm2",
    "_cm": "cm",
    "_deg": "degrees",
    "_percent": "%",
    "_hours": "h",
    "_days": "d",
    "_px": "pixels",
    "hours_on": "h",
    "watts": "W",
    "factor": "1",
    "transmission": "1",
    "uncertainty": "%",
    "_on": "day at the tank, YYYY-MM-DD",
    "_at": "moment in UTC, ISO 8601",
    "since": "day at the tank, YYYY-MM-DD",
}
TYPES: list[tuple[type[Field], str]] = [
    (models.FileField, "file"),
    (models.BooleanField, "boolean"),
    (models.FloatField, "number"),
    (models.IntegerField, "integer"),
    (models.JSONField, "json"),
    (models.UUIDField, "uuid"),
    (models.DateTimeField, "datetime"),
    (models.DateField, "date"),
    (models.TimeField, "time"),
]


def dictionary(tables: Iterable[type[Model]]) -> dict[str, Words]:
    """Return {table: {column: what it holds}}."""
    return {
        table_name(model): {field.name: column_words(field) for field in row_fields(model)}
        for model in tables
    }


def column_words(field: Field) -> Words:
    words: Words = {"type": type_of(field), "means": str(field.verbose_name)}
    if field.help_text:
        words["help"] = str(field.help_text)
    if unit := unit_of_column(field.name):
        words["unit"] = unit
    if field.choices:
        words["values"] = {str(key): str(label) for key, label in field.flatchoices}
    if field.null:
        words["may_be_empty"] = True
    return words


def type_of(field: Field) -> str:
    if field.is_relation:
        model = field.related_model
        return "person" if model._meta.app_label == "accounts" else f"row of {table_name(model)}"
    return next((name for kind, name in TYPES if isinstance(field, kind)), "text")


def unit_of_column(name: str) -> str:
    """Return the unit of a column as its name tells it, "" where it has none."""
    return next((unit for ending, unit in UNITS.items() if name.endswith(ending)), "")
