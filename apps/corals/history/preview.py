"""What a page shows of a table of history before anything of it is added."""

from dataclasses import dataclass
from datetime import date, datetime

from apps.common.moments import day_text
from apps.corals.history.entries import Entry
from apps.corals.history.reading import ReadHistory
from apps.corals.history_models import ADDED, NOUNS
from apps.tanks.models import Tank

SHOWN = 6
MORE_SHOWN = 200
BAD_LINES_SHOWN = 100
DATE_FIELDS = {
    "note": "noted_on",
    "spot": "since",
    "size": "measured_on",
    "water": "happened_at",
    "light": "happened_at",
}


@dataclass(frozen=True)
class KindPreview:
    """The entries of one kind: how many are new and there already, and some of the new ones."""

    noun: str
    new: int
    known: int
    first: tuple[tuple[str, str], ...]  # (day, words)
    more: tuple[tuple[str, str], ...]
    unseen: int


def kind_previews(history: ReadHistory, tank: Tank) -> list[KindPreview]:
    """Return a KindPreview of each kind that the table holds."""
    result = []
    for kind in ADDED:
        entries = [entry for entry in history.entries if entry.kind == kind]
        if not entries:
            continue
        new = [entry for entry in entries if not entry.is_known]
        shown = [(day_of(entry, tank), entry.words) for entry in new[: SHOWN + MORE_SHOWN]]
        result.append(
            KindPreview(
                noun=NOUNS[kind][1],
                new=len(new),
                known=len(entries) - len(new),
                first=tuple(shown[:SHOWN]),
                more=tuple(shown[SHOWN:]),
                unseen=max(len(new) - SHOWN - MORE_SHOWN, 0),
            )
        )
    return result


def day_of(entry: Entry, tank: Tank) -> str:
    value: date = getattr(entry.row, DATE_FIELDS[entry.kind])
    return day_text(value.astimezone(tank.zone) if isinstance(value, datetime) else value)


def preview(history: ReadHistory, tank: Tank) -> dict[str, object]:
    """Return what the page shows of a table that was read."""
    kinds = kind_previews(history, tank)
    return {
        "history": history,
        "kinds": kinds,
        "new_count": len(history.new),
        "known_count": sum(kind.known for kind in kinds),
        "corals_to_add": history.corals_to_add,
        "bad_shown": history.bad[:BAD_LINES_SHOWN],
        "bad_more": max(len(history.bad) - BAD_LINES_SHOWN, 0),
        "waiting": len({line.number for line in history.waiting}),
        "asks_names": any(not question.answer for question in history.names),
    }
