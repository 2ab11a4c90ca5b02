"""From a table of a zip to unsaved rows, each value checked as a form would check it."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Field, FileField, Model

from apps.transfer.archive import form
from apps.transfer.archive.form import UnfitZip
from apps.transfer.archive.tables import links, row_fields, table_name

NEWER = "It was made by a newer reeflog: update this installation first."


@dataclass(frozen=True)
class StatedRow:
    """A row as a zip states it, its values in Python's types; its links are keys of the zip."""

    model: type[Model]
    key: object
    values: Mapping[str, Any]
    links: Mapping[str, object]

    @property
    def words(self) -> str:
        return f"Row {self.key} of “rows/{table_name(self.model)}.json”"


def stated_rows(model: type[Model], table: Any) -> Iterator[StatedRow]:
    """Yield the rows of a decoded table; raises UnfitZip at the first odd one."""
    name = f"rows/{table_name(model)}.json"
    if not isinstance(table, list) or len(table) > form.ROWS_MAX:
        raise UnfitZip(f"“{name}” is not a table of rows.")
    fields = {field.name: field for field in row_fields(model)}
    linked = {field.name for field in links(model)}
    known = set()
    for row in table:
        is_row = isinstance(row, dict) and row.keys() == {"pk", "fields"}
        if not is_row or not isinstance(row["fields"], dict):
            raise UnfitZip(f"“{name}” is not a table of rows.")
        if odd := sorted(row["fields"].keys() - fields.keys()):
            raise UnfitZip(f"“{name}” has a column “{odd[0][:60]}” that is not known here. {NEWER}")
        key = _key(model, row["pk"], name)
        if key in known:
            raise UnfitZip(f"“{name}” has row {key} twice.")
        known.add(key)
        values = {n: v for n, v in row["fields"].items() if n not in linked}
        yield StatedRow(
            model,
            key,
            {n: _value(fields[n], v, f"Row {key} of “{name}”") for n, v in values.items()},
            {n: _link(v, name) for n, v in row["fields"].items() if n in linked},
        )


def _key(model: type[Model], value: object, name: str) -> object:
    is_text = isinstance(model._meta.pk, models.CharField)
    is_sound = isinstance(value, str) if is_text else type(value) is int and value > 0
    if not is_sound:
        raise UnfitZip(f"“{name}” has a row without a number.")
    return value


def _link(value: object, name: str) -> object:
    if value is not None and type(value) not in (int, str):
        raise UnfitZip(f"“{name}” points to rows by something that is no number.")
    return value


def _value(field: Field, value: Any, where: str) -> Any:
    """Return a value as the column takes it, or raise UnfitZip."""
    if isinstance(field, FileField):
        return value if isinstance(value, str) else ""
    try:
        _refuse_type(field, value)
        return value if isinstance(field, models.JSONField) else field.to_python(value)
    except (ValidationError, TypeError, ValueError, OverflowError):
        raise UnfitZip(f"{where}: “{field.name}” has a value that does not fit.") from None


def _refuse_type(field: Field, value: Any) -> None:
    """Raise TypeError for what Django would turn into a value all too kindly."""
    if value is None or isinstance(field, models.JSONField):
        return
    wanted: type | tuple[type, ...] = str
    if isinstance(field, models.BooleanField):
        wanted = bool
    elif isinstance(field, models.IntegerField):
        wanted = int
    elif isinstance(field, models.FloatField):
        wanted = (int, float)
    if not isinstance(value, wanted) or (isinstance(value, bool) and wanted is not bool):
        raise TypeError
    is_moment = isinstance(field, models.DateTimeField)
    if is_moment and dt.datetime.fromisoformat(value).tzinfo is None:
        raise ValueError


def check_row(row: Model, where: str) -> None:
    """Raise UnfitZip for a value that no way in would have taken.

    What a keeper's rules say of rows beside each other (a date ahead, a spot in a rock) is not
    asked anew: a backup takes its rows as they stood, those of years ago too.
    """
    pointing = [field.name for field in links(type(row))]
    files = [f.name for f in type(row)._meta.concrete_fields if isinstance(f, FileField)]
    try:
        row.clean_fields(exclude=[*pointing, *files, *_blank(row)])
    except ValidationError as problem:
        name = next(iter(problem.message_dict))
        raise UnfitZip(f"{where}: “{name}” has a value that does not fit.") from None
    if problem_column := _odd_document(row):
        raise UnfitZip(f"{where}: “{problem_column}” has a value that does not fit.")


def _blank(row: Model) -> list[str]:
    """Return the columns that are empty though a form would ask for them: drafts have such."""
    return [
        field.name
        for field in row._meta.concrete_fields
        if not field.blank
        and (
            getattr(row, field.attname) in field.empty_values
            and (field.null or isinstance(field, models.CharField | models.JSONField))
        )
    ]


def _odd_document(row: Model) -> str:
    """Return the column of a document that the row's own check refuses or stumbles over, or ""."""
    documents = [f.name for f in row._meta.concrete_fields if isinstance(f, models.JSONField)]
    filled = [name for name in documents if getattr(row, name)]
    if not filled:
        return ""
    try:
        row.clean()
    except ValidationError as problem:
        named = getattr(problem, "error_dict", {})
        return next((name for name in filled if name in named), "")
    except (TypeError, KeyError, ValueError, AttributeError, IndexError, OverflowError):
        return filled[0]
    return ""
