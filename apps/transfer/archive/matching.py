"""A keeper's fixtures and meters in a zip: one that says the same as theirs is theirs."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Model

from apps.accounts.models import User
from apps.lighting.models import Fixture, PhotometricFile
from apps.surveys.models import Meter, MeterCheck
from apps.transfer.archive.reading_rows import StatedRow
from apps.transfer.archive.tables import row_fields

Rows = dict[object, Model]


def known_rows(
    model: type[Model],
    rows: Rows,
    keeper: User,
    stated: Mapping[Any, list[StatedRow]],
    placed: Mapping[Any, Mapping[object, Model]],
) -> Rows:
    """Return {key in the zip: the keeper's row that is the same}, each row once at most.

    `placed` holds the rows of the tables before, by their keys in the zip.
    """
    if model is Fixture:
        texts = {one.links["fixture"]: one.values["text"] for one in stated[PhotometricFile]}
        held = Fixture.objects.filter(owner=keeper).select_related("photometric_file")
        own = [((*_said(row), row.measured.text if row.measured else None), row) for row in held]
        return _paired({k: (*_said(row), texts.get(k)) for k, row in rows.items()}, own)
    if model is Meter:
        held = Meter.objects.filter(owner=keeper, club=None)
        return _paired({k: _said(row) for k, row in rows.items()}, [(_said(r), r) for r in held])
    if model is PhotometricFile:
        return {k: row.fixture.photometric_file for k, row in rows.items() if _has_file(row)}
    if model is MeterCheck:
        held = MeterCheck.objects.filter(meter__owner=keeper, meter__club=None)
        own = [(_said(row, linked=True), row) for row in held]
        return _paired({k: _said(row, linked=True) for k, row in rows.items()}, own)
    return {}


def _has_file(row: PhotometricFile) -> bool:
    """Whether the fixture is one that the keeper had: then it has its file, the same one."""
    return PhotometricFile.objects.filter(fixture=row.fixture).exists()


def _said(row: Model, *, linked: bool = False) -> tuple[str, ...]:
    """Return all a row says, to be held against another; links only on demand."""
    fields = (f for f in row_fields(type(row)) if linked or not f.is_relation)
    return tuple(f"{field.name}={getattr(row, field.attname)!r}" for field in fields)


def _paired(wanted: Mapping[object, tuple[Any, ...]], own: list[tuple[Any, Any]]) -> Rows:
    result: Rows = {}
    for key, said in wanted.items():
        at = next((k for k, (other, _) in enumerate(own) if other == said), None)
        if at is not None:
            result[key] = own.pop(at)[1]
    return result
