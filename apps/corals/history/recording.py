"""Writing what an import of history adds, all or nothing, and remembering it so it can go again."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from apps.accounts.models import User
from apps.corals.coral.placing import add_coral
from apps.corals.history.entries import Entry
from apps.corals.history.known import fingerprint
from apps.corals.history.naming import Arrival, stated_arrivals
from apps.corals.history.reading import ReadHistory, read_history
from apps.corals.history.table import Answers
from apps.corals.history_models import HistoryImport
from apps.corals.notes.noting import save_note
from apps.corals.water.logging import add_water_events
from apps.later.progress import Progress, unheard
from apps.lighting.hanging import save_light_change
from apps.tanks.access import hold_tank
from apps.tanks.kept_pages.pages import stamps_of
from apps.tanks.models import Tank

SOURCE_CHARS = 120


@dataclass(frozen=True)
class TableToAdd:
    """A table as it was read for a tank, and the tank's stamp before that, None where unknown."""

    text: str
    answers: Answers
    history: ReadHistory
    stamp: int | None


def read_to_add(
    *, tank: Tank, text: str, answers: Answers, progress: Progress = unheard
) -> TableToAdd:
    """Read a table for `import_history`, before any transaction: nobody's save waits for it.

    Raises UnreadableTable as `read_history` does.
    """
    stamp = _stamp_of(tank)
    # Reading it is about the half.
    history = read_history(
        text, tank=tank, answers=answers, progress=lambda done, of, what="": progress(done, 2 * of)
    )
    return TableToAdd(text, answers, history, stamp)


def _stamp_of(tank: Tank) -> int | None:
    return stamps_of(tank.pk).get(tank.pk)


@transaction.atomic
def import_history(
    *,
    tank: Tank,
    table: TableToAdd,
    by: User,
    source: str = "",
    progress: Progress = unheard,
) -> tuple[HistoryImport | None, ReadHistory]:
    """Add to a tank what a table holds that is new, and return what was read.

    The HistoryImport is None where nothing is new. Raises UnreadableTable as `read_history` does,
    and Http404 where the tank is gone.
    """
    # Two imports at once wait for each other: the second sees what the first added.
    tank = hold_tank(tank.pk)
    history = table.history
    if table.stamp is None or table.stamp != _stamp_of(tank):
        # Written to since it was read, be it by the same import: what is new may differ.
        history = read_history(table.text, tank=tank, answers=table.answers)
    if not history.new:
        return None, history
    added = record_history(tank=tank, history=history, by=by, source=source, progress=progress)
    return added, history


@transaction.atomic
def record_history(
    *,
    tank: Tank,
    history: ReadHistory,
    by: User,
    source: str = "",
    progress: Progress = unheard,
) -> HistoryImport:
    """Save the new entries of a ReadHistory, first the corals and arrivals that they need."""
    new = history.new
    for coral in history.corals_to_add:
        add_coral(coral=coral)
    moved = [arrival for arrival in history.arrivals if arrival.is_earlier]
    for arrival in moved:
        _date_back(arrival)
    _save(new, tank, by, progress)
    added = [["coral", coral.pk, ""] for coral in history.corals_to_add]
    added += [[e.kind, e.row.pk, fingerprint(e.kind, e.row)] for e in new if e.row.pk]
    kept = HistoryImport(
        tank=tank,
        created_by=by,
        source=source_words(source),
        added=added,
        arrivals=[list(row) for row in stated_arrivals(moved)],
    )
    kept.full_clean(exclude=["tank", "created_by"])
    kept.save()
    return kept


def _date_back(arrival: Arrival) -> None:
    coral = arrival.coral
    coral.full_clean(exclude=["tank", "parent"], validate_constraints=False)
    coral.save(update_fields=["added_on"])


def _save(entries: Sequence[Entry], tank: Tank, by: User, progress: Progress) -> None:
    """Save entries by the writers of their kinds."""
    for done, entry in enumerate(entries):
        progress(len(entries) + done, 2 * len(entries))
        if entry.coral is not None:
            entry.row.coral = entry.coral  # saved by now, so that the row knows its key
        if entry.kind in ("note", "light"):
            entry.row.created_by = by
        if entry.kind == "note":
            save_note(note=entry.row)
        elif entry.kind == "light":
            save_light_change(change=entry.row)
        elif entry.kind != "water":
            entry.row.save()
    add_water_events(tank=tank, events=[e.row for e in entries if e.kind == "water"], by=by)


def source_words(name: str) -> str:
    """Return a file's name as far as it can be seen and kept."""
    return "".join(sign for sign in name if sign.isprintable())[:SOURCE_CHARS].strip()
