"""From a table of a zip to unsaved rows, each value checked as a form would check it."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Field, FileField, Model

from apps.transfer.archive import form
from apps.transfer.archive.form import Unfit, UnfitZip
from apps.transfer.archive.tables import (
    document_fields,
    file_fields,
    links,
    row_fields,
    table_name,
)

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
        raise UnfitZip(Unfit.UNREADABLE, f"“{name}” is not a table of rows.")
    fields = {field.name: field for field in row_fields(model)}
    linked = {field.name for field in links(model)}
    known, read = set(), ReadValues()
    for row in table:
        is_row = isinstance(row, dict) and row.keys() == {"pk", "fields"}
        if not is_row or not isinstance(row["fields"], dict):
            raise UnfitZip(Unfit.UNREADABLE, f"“{name}” is not a table of rows.")
        if odd := sorted(row["fields"].keys() - fields.keys()):
            raise UnfitZip(
                Unfit.NEWER,
                f"“{name}” has a column “{odd[0][:60]}” that is not known here. {NEWER}",
            )
        key = _key(model, row["pk"], name)
        if key in known:
            raise UnfitZip(Unfit.DOUBLE, f"“{name}” has row {key} twice.")
        known.add(key)
        where = f"Row {key} of “{name}”"
        values, pointed = {}, {}
        for column, value in row["fields"].items():
            if column in linked:
                pointed[column] = _link(value, name)
            else:
                values[column] = read.value(fields[column], value, where)
        yield StatedRow(model, key, values, pointed)


def _key(model: type[Model], value: object, name: str) -> object:
    is_text = isinstance(model._meta.pk, models.CharField)
    is_sound = isinstance(value, str) if is_text else type(value) is int and value > 0
    if not is_sound:
        raise UnfitZip(Unfit.UNREADABLE, f"“{name}” has a row without a number.")
    return value


def _link(value: object, name: str) -> object:
    if value is not None and type(value) not in (int, str):
        raise UnfitZip(Unfit.VALUE, f"“{name}” points to rows by something that is no number.")
    return value


class ReadValues:
    """The values that were read of a table: what many rows say is turned into its type once."""

    def __init__(self) -> None:
        self.known: dict[tuple[str, type, object], Any] = {}

    def value(self, field: Field, value: Any, where: str) -> Any:
        """Return a value as the column takes it, or raise UnfitZip."""
        if not is_short(value):
            return _value(field, value, where)
        mark = (field.name, type(value), value)
        if mark not in self.known:
            self.known[mark] = _value(field, value, where)
        return self.known[mark]


def _value(field: Field, value: Any, where: str) -> Any:
    """Return a value as the column takes it, or raise UnfitZip."""
    if isinstance(field, FileField):
        return value if isinstance(value, str) else ""
    try:
        _refuse_type(field, value)
        return value if isinstance(field, models.JSONField) else field.to_python(value)
    except (ValidationError, TypeError, ValueError, OverflowError):
        raise UnfitZip(
            Unfit.VALUE, f"{where}: “{field.name}” has a value that does not fit."
        ) from None


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


# Of what is said in many rows: text of this length is hardly said twice [characters].
REMEMBERED_CHARS = 40
PLAIN = frozenset({type(None), bool, int, float, dt.date, dt.datetime})


class RowChecks:
    """The checks of one table's rows: a value that a column took once is not checked again there.

    What a keeper's rules say of rows beside each other (a date ahead, a spot in a rock) is not
    asked anew: a backup takes its rows as they stood, those of years ago too.
    """

    def __init__(self, model: type[Model]) -> None:
        left_out = {*links(model), *file_fields(model)}
        self.columns = [f for f in model._meta.fields if f not in left_out]
        self.names = {field.name for field in model._meta.fields}
        self.documents = [field.name for field in document_fields(model)]
        self.taken: set[tuple[str, type, object]] = set()

    def check(self, row: Model, where: str) -> None:
        """Raise UnfitZip for a value that no way in would have taken."""
        new = {}
        for field in self.columns:
            value = row.__dict__[field.attname]
            mark = (field.name, type(value), value) if is_short(value) else None
            if mark is None or mark not in self.taken:
                new[field] = mark
        if new:
            unsure = {field.name for field in new if not is_blank(field, row)}
            self.check_anew(row, where, self.names - unsure)
            self.taken.update(mark for mark in new.values() if mark is not None)
        if column := _odd_document(row, self.documents):
            raise UnfitZip(Unfit.VALUE, f"{where}: “{column}” has a value that does not fit.")

    def check_anew(self, row: Model, where: str, known: set[str]) -> None:
        """Check the columns of a row but for the known ones."""
        try:
            row.clean_fields(exclude=known)
        except ValidationError as problem:
            name = next(iter(problem.message_dict))
            raise UnfitZip(
                Unfit.VALUE, f"{where}: “{name}” has a value that does not fit."
            ) from None


def is_short(value: object) -> bool:
    """Return whether a value may be remembered: plain, and not a long text."""
    kind = type(value)
    return kind in PLAIN or (kind is str and len(value) <= REMEMBERED_CHARS)  # type: ignore[arg-type]


def is_blank(field: Field, row: Model) -> bool:
    """Return whether a column is empty though a form would ask for it: drafts have such."""
    if field.blank or row.__dict__[field.attname] not in field.empty_values:
        return False
    return field.null or isinstance(field, models.CharField | models.JSONField)


def _odd_document(row: Model, documents: list[str]) -> str:
    """Return the column of a document that the row's own check refuses or stumbles over, or ""."""
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
