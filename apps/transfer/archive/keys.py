"""Keys of rows that stand inside documents, and marks that may exist once only.

A row's columns tell by themselves what they point to. What a document (a JSON column) says is told
here: `tests/transfer/test_keys.py` insists on a word for every such column.
"""

import uuid
from collections.abc import Callable, Mapping
from typing import Any

from django.apps import apps
from django.db.models import Model

from apps.corals.history_models import ADDED, HistoryImport
from apps.planning.models import Plan
from apps.transfer.archive.contents import OWN_FIXTURE

Keys = Mapping[type[Model], Mapping[object, Model]]
Document = Any


class NewMarks:
    """For each mark (UUID) of a zip another one, the same wherever it stands."""

    def __init__(self) -> None:
        self._space = uuid.uuid4()
        self._known: dict[str, str] = {}

    def new(self, mark: uuid.UUID) -> uuid.UUID:
        result = uuid.uuid5(self._space, str(mark))
        self._known[str(mark)] = str(result)
        return result

    def within(self, value: Document) -> Document:
        """Return a document with the marks in it made new; other texts stay."""
        return replaced(value, lambda text: self._known.get(text, text))


def replaced(value: Document, change: Callable[[str], str]) -> Document:
    """Return a document with each text in it changed, but for the names of its parts."""
    if isinstance(value, dict):
        return {name: replaced(part, change) for name, part in value.items()}
    if isinstance(value, list):
        return [replaced(part, change) for part in value]
    return change(value) if isinstance(value, str) else value


def history_added(rows: list[list[Any]], keys: Keys) -> list[list[Any]]:
    """Return what an import of history added; what is gone for good since is left out."""
    result = []
    for kind, key, *rest in rows:
        row = keys[apps.get_model(ADDED[kind])].get(key)
        if row is not None:
            result.append([kind, row.pk, *rest])
    return result


def history_arrivals(rows: list[list[Any]], keys: Keys) -> list[list[Any]]:
    corals = keys[apps.get_model(ADDED["coral"])]
    return [[corals[key].pk, *rest] for key, *rest in rows if key in corals]


def plan_document(value: Document, keys: Keys) -> Document:
    """Return a plan's document with its keeper's fixtures as they are numbered here."""
    fixtures = keys.get(apps.get_model("lighting.Fixture"), {})

    def change(text: str) -> str:
        match = OWN_FIXTURE.fullmatch(text)
        if match is None:
            return text
        row = fixtures.get(int(match[1]))
        # A number that means nothing here must not become another fixture's.
        return f"own:{row.pk}" if row is not None else "own:0"

    return replaced(value, change)


WITH_KEYS: dict[tuple[type[Model], str], Callable[[Document, Keys], Document]] = {
    (HistoryImport, "added"): history_added,
    (HistoryImport, "arrivals"): history_arrivals,
    (Plan, "asked"): plan_document,
    (Plan, "answer"): plan_document,
    (Plan, "sent"): plan_document,
}
