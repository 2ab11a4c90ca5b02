"""A stored row is saved with what was written of it alone.

Forms and calls read a row before they write it. What others wrote of its other fields meanwhile,
such as who owns a tank now or when it was taken away, stays as they left it.
"""

from collections.abc import Iterable

from django.db import DatabaseError
from django.db.models import Model
from django.http import Http404

# The values of a row as they were read, by the field's name.
Values = dict[str, object]


def values_of(row: Model) -> Values:
    """Return what a row holds of its fields, without asking the database for what was left out."""
    held = row.__dict__
    return {f.name: held[f.attname] for f in row._meta.concrete_fields if f.attname in held}


def changed_since(row: Model, before: Values) -> set[str]:
    """Return the names of a row's fields whose values are not those of `before`."""
    now = values_of(row)
    return {name for name, value in now.items() if name not in before or before[name] != value}


def save_own(row: Model, names: Iterable[str]) -> None:
    """Save these fields of a stored row and those that keep themselves, a new row whole.

    Names that are no column of the row are left aside. Raises Http404 where the row is gone: it
    is not made anew.
    """
    if row._state.adding:
        row.save()
        return
    columns = {f.name: f for f in row._meta.concrete_fields if not f.primary_key}
    kept = {name for name, field in columns.items() if getattr(field, "auto_now", False)}
    fields = columns.keys() & set(names)
    if not fields:
        return
    try:
        row.save(update_fields=fields | kept)
    except DatabaseError as problem:
        # What a database refuses has its own error as the cause; Django's word is only that
        # there was no such row.
        if problem.__cause__ is not None:
            raise
        raise Http404 from problem
