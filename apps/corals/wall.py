"""The tank wall: the latest picture of every coral, by its light or by how it changed."""

import datetime as dt
from dataclasses import dataclass

from apps.corals.condition import Change, change_between
from apps.corals.models import HealthNote
from apps.corals.standing import Standing

BY_LIGHT, BY_CHANGE = "light", "change"


@dataclass(frozen=True)
class Tile:
    standing: Standing
    photo_on: dt.date | None
    # Between its last two notes that say a condition; None with fewer.
    change: Change | None


def wall(found, *, by):
    """Return the Tiles of some Standings of living corals; one query.

    By light: brightest first, those without a number last. By change: what grew worse most first,
    then what grew better most, then the unchanged and the unknown; one step may be the eye alone,
    so real changes always come before it.
    """
    changes = last_changes([standing.coral for standing in found])
    tiles = [
        Tile(standing, standing.coral.latest_photo_on, changes.get(standing.coral.pk))
        for standing in found
    ]
    return sorted(tiles, key=change_rank if by == BY_CHANGE else light_rank)


def last_changes(corals):
    """Return {coral pk: Change} between the last two conditions of each coral."""
    said = (
        HealthNote.objects.present()
        .filter(coral__in=corals, condition__isnull=False)
        .order_by("noted_on", "pk")
        .values_list("coral", "condition")
    )
    last, before = {}, {}
    for coral, condition in said:
        before[coral], last[coral] = last.get(coral), condition
    changes = {coral: change_between(before[coral], now) for coral, now in last.items()}
    return {coral: change for coral, change in changes.items() if change}


def light_rank(tile):
    light = tile.standing.light
    return (light is None, -light.par_umol if light else 0.0, tile.standing.coral.name)


def change_rank(tile):
    steps = tile.change.steps if tile.change else 0
    is_real = bool(tile.change and tile.change.is_real)
    return (not is_real, steps >= 0, -abs(steps), tile.standing.coral.name)
