"""Which entries of a table the tank holds already, by what they say and not by where they stand."""

import datetime as dt
import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from apps.common.moments import day_text
from apps.common.tables.reading import BadLine
from apps.corals.history.entries import Entry
from apps.corals.history_models import HistoryImport, portions, rows
from apps.corals.models import CoralSize, HealthNote, Spot, WaterEvent
from apps.lighting.models import LightChange
from apps.tanks.models import Tank

# What makes two rows of a kind the same.
FACTS: dict[str, tuple[str, ...]] = {
    "note": ("coral_id", *HealthNote.SAID),
    "water": ("happened_at", "kind", "value", "unit", "text"),
    "light": ("happened_at", "reason", "summary", "factor", "day_hours"),
    "size": ("coral_id", "measured_on", "diameter_cm"),
    "spot": ("coral_id", "since", "x_cm", "y_cm", "depth_cm"),
}
# A row that a keeper edited since is still the one that was imported.
FINGERPRINT_CHARS = 16


def facts_of(kind: str, row: Any) -> tuple[object, ...]:
    """Return what a row says, so that two that say the same are equal."""
    return tuple(plain(getattr(row, name)) for name in FACTS[kind])


def plain(value: object) -> object:
    if isinstance(value, list):
        return tuple(sorted(map(str, value)))
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC)
    return round(value, 6) if isinstance(value, float) else value


def fingerprint(kind: str, row: Any) -> str:
    """Return a short digest of what a row says."""
    said = json.dumps([kind, *facts_of(kind, row)], default=str)
    return hashlib.sha256(said.encode()).hexdigest()[:FINGERPRINT_CHARS]


def with_known(entries: Iterable[Entry], *, tank: Tank) -> tuple[list[Entry], list[BadLine]]:
    """Return the entries with those marked that the tank holds, and lines whose spot is taken."""
    held = held_facts(tank)
    imported = present_fingerprints(tank)
    spots = _spots_of(tank)
    result, conflicts = [], []
    for entry in entries:
        row = entry.row
        key = (entry.kind, id(entry.coral) if entry.coral and not entry.coral.pk else 0)
        said = (*key, *facts_of(entry.kind, row))
        is_known = said in held or bool(imported and fingerprint(entry.kind, row) in imported)
        if entry.kind == "spot" and not is_known:
            places = spots[id(entry.coral) if not entry.coral.pk else entry.coral.pk]
            if row.since in places:
                conflicts.append(BadLine(entry.number, entry.words, _taken_words(row)))
                continue
            is_known = _place_before(places, row.since) == _place(row)
            if not is_known:
                places[row.since] = _place(row)
        held.add(said)
        result.append(replace(entry, is_known=True) if is_known else entry)
    return result, conflicts


def held_facts(tank: Tank) -> set[tuple[object, ...]]:
    """Return what the present rows of a tank say, as `with_known` compares it."""
    models = {
        "note": HealthNote.objects.present().filter(coral__tank=tank, coral__removed_at=None),
        "water": WaterEvent.objects.present().filter(tank=tank),
        "light": LightChange.objects.present().filter(tank=tank),
        "size": CoralSize.objects.present().filter(coral__tank=tank, coral__removed_at=None),
        "spot": Spot.objects.filter(coral__tank=tank, coral__removed_at=None),
    }
    return {
        (kind, 0, *map(plain, values))
        for kind, present in models.items()
        for values in present.values_list(*FACTS[kind])
    }


def present_fingerprints(tank: Tank) -> set[str]:
    """Return the fingerprints of all imported rows that are still there, edited or not."""
    by_row: dict[str, dict[int, str]] = defaultdict(dict)
    for added in HistoryImport.objects.present().filter(tank=tank).values_list("added", flat=True):
        for kind, pk, digest in added:
            by_row[kind][pk] = digest
    keys = {kind: list(digests) for kind, digests in by_row.items()}
    return {
        by_row[kind][pk]
        for kind, some in portions(keys)
        for pk in rows(kind).filter(pk__in=some, removed_at=None).values_list("pk", flat=True)
    }


def _spots_of(tank: Tank) -> dict[int, dict]:
    """Return {coral's key: {day: place}} of a tank's present spots."""
    result: dict[int, dict] = defaultdict(dict)
    for spot in Spot.objects.filter(coral__tank=tank):
        result[spot.coral_id][spot.since] = _place(spot)
    return result


def _place(spot: Spot) -> tuple[float, ...]:
    return tuple(round(value, 2) for value in (spot.x_cm, spot.y_cm, spot.depth_cm))


def _place_before(places: dict, day: object) -> tuple[float, ...] | None:
    """Return where a coral sat before a day: a row that says the same again is no move."""
    before = [since for since in places if since < day]
    return places[max(before)] if before else None


def _taken_words(spot: Spot) -> str:
    return f"{spot.coral} has another spot from {day_text(spot.since)} already."
