"""A row is held while what rests on it is read and written."""

from typing import Any

from django.db.models import Manager, QuerySet
from django.shortcuts import get_object_or_404


def hold_row(rows: Manager | QuerySet, pk: object) -> Any:
    """Hold one row until the transaction ends, and return it as it stands.

    Its key is left alone, so that rows which name it may come meanwhile. Raises Http404 where the
    row is gone, as it is for whoever asks after it was deleted.
    """
    return get_object_or_404(rows.select_for_update(no_key=True), pk=pk)
