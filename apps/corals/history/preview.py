"""What is shown of a table of history before anything of it is added, as plain values.

They are plain so that a job which reads a large table can leave them to its page and to programs;
days are in ISO form, and pages show them by `day_words`.
"""

from collections.abc import Sequence
from datetime import date, datetime

from apps.corals.history.columns import Column
from apps.corals.history.entries import Entry
from apps.corals.history.naming import Arrival, NameQuestion
from apps.corals.history.reading import ReadHistory, SpellingQuestion
from apps.corals.history_models import ADDED, NOUNS
from apps.corals.models import Coral
from apps.tanks.models import Tank

SHOWN = 6
MORE_SHOWN = 200
BAD_LINES_SHOWN = 100
# Of a line, and of what an entry says; the page shows less.
LINE_CHARS, WORDS_CHARS = 100, 200
DATE_FIELDS = {
    "note": "noted_on",
    "spot": "since",
    "size": "measured_on",
    "water": "happened_at",
    "light": "happened_at",
}
Plain = dict[str, object]


def preview(history: ReadHistory, tank: Tank) -> Plain:
    """Return what the page shows of a table that was read; all of it may stand in JSON."""
    table, entries = history.table, _by_kind(history)
    return {
        "problem": history.problem,
        "title": list(table.title),
        "columns": [_column(column) for column in table.columns],
        "unread": [column.name for column in table.unread()],
        "kinds": [_kind(kind, some, tank) for kind, some in entries.items()],
        "new": len(history.new),
        "known": len(history.entries) - len(history.new),
        "new_corals": [_coral(coral) for coral in history.corals_to_add],
        "bad": len(history.bad),
        "bad_shown": [
            {"number": line.number, "text": line.text[:LINE_CHARS], "problem": line.problem}
            for line in history.bad[:BAD_LINES_SHOWN]
        ],
        "bad_more": max(len(history.bad) - BAD_LINES_SHOWN, 0),
        "waiting": len({line.number for line in history.waiting}),
        "names": [_name(question) for question in history.names],
        "arrivals": [_arrival(arrival) for arrival in history.arrivals],
        "signs": [_spelling(question) for question in history.signs],
        "conditions": [_spelling(question) for question in history.conditions],
    }


def _by_kind(history: ReadHistory) -> dict[str, list[Entry]]:
    """Return the entries of each kind that the table holds."""
    result: dict[str, list[Entry]] = {kind: [] for kind in ADDED}
    for entry in history.entries:
        result[entry.kind].append(entry)
    return {kind: entries for kind, entries in result.items() if entries}


def _kind(kind: str, entries: Sequence[Entry], tank: Tank) -> Plain:
    """Return how many entries of a kind are new and there already, and some of the new ones."""
    new = [entry for entry in entries if not entry.is_known]
    shown = [
        [day_of(entry, tank), entry.words[:WORDS_CHARS]] for entry in new[: SHOWN + MORE_SHOWN]
    ]
    return {
        "kind": kind,
        "noun": NOUNS[kind][1],
        "new": len(new),
        "known": len(entries) - len(new),
        "first": shown[:SHOWN],
        "more": shown[SHOWN:],
        "unseen": max(len(new) - SHOWN - MORE_SHOWN, 0),
    }


def day_of(entry: Entry, tank: Tank) -> str:
    """Return the day of an entry by the clock of its tank, in ISO form."""
    value: date = getattr(entry.row, DATE_FIELDS[entry.kind])
    day = value.astimezone(tank.zone).date() if isinstance(value, datetime) else value
    return day.isoformat()


def _column(column: Column) -> Plain:
    return {
        "index": column.index,
        "name": column.name,
        "samples": list(column.samples),
        "role": column.role,
        "unit": column.unit,
        "is_water": bool(column.water_kind),
    }


def _coral(coral: Coral) -> Plain:
    return {
        "pk": coral.pk,
        "name": coral.name,
        "group": coral.group_short(),
        "since": coral.added_on.isoformat(),
    }


def _name(question: NameQuestion) -> Plain:
    return {
        "key": question.key,
        "name": question.name,
        "count": question.count,
        "since": question.first.isoformat(),
        "likely": [_coral(coral) for coral in question.likely],
        "likely_pks": [coral.pk for coral in question.likely],
        "answer": question.answer,
    }


def _arrival(arrival: Arrival) -> Plain:
    return {
        "coral": _coral(arrival.coral),
        "first": arrival.first.isoformat(),
        "stated": arrival.stated.isoformat(),
        "count": arrival.count,
        "is_earlier": arrival.is_earlier,
        "problem": arrival.problem,
    }


def _spelling(question: SpellingQuestion) -> Plain:
    return {
        "key": question.key,
        "word": question.word,
        "count": question.count,
        "answer": question.answer,
    }
