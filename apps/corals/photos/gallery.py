"""The tank wall: the latest picture of every coral, by its light or by how it changed.

How it changed is seen by notes of its condition, or by its colour as photos measured it.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from apps.corals.condition import Change, change_between
from apps.corals.models import Coral, HealthNote
from apps.corals.photos.colour_story import ColourPoint, latest_colours
from apps.corals.status import CoralStatus

BY_LIGHT, BY_CHANGE, BY_COLOUR = "light", "change", "colour"


@dataclass(frozen=True)
class Tile:
    status: CoralStatus
    photo_on: dt.date | None
    # Between its last two notes that say a condition; None with fewer.
    change: Change | None
    # Its newest measured photo against its baseline; None where no two can be compared.
    colour: ColourPoint | None


def wall(statuses: Sequence[CoralStatus], *, by: str) -> list[Tile]:
    """Return the Tiles of some CoralStatuses of living corals; two queries.

    By light: brightest first, those without a number last. By change: what grew worse most first,
    then what grew better most, then the unchanged and the unknown; one step may be the eye alone,
    so real changes always come before it. By colour: furthest from the baseline first, then those
    not told apart from it, then those without a comparison.
    """
    corals = [status.coral for status in statuses]
    changes, colours = last_changes(corals), latest_colours(corals)
    tiles = [
        Tile(s, s.coral.latest_photo_on, changes.get(s.coral.pk), colours.get(s.coral.pk))
        for s in statuses
    ]
    return sorted(tiles, key=RANKS[by])


def order_words(by: str, *, has_colours: bool, rests_on: str) -> str:
    """Say which Tiles come first; `rests_on` is what the light rests on, "" without any."""
    if by == BY_CHANGE:
        return "Those whose condition changed most come first."
    if by == BY_COLOUR:
        none = "" if has_colours else "; no coral has two photos that can be compared yet"
        return f"Those whose measured colour is furthest from their first photo come first{none}."
    if rests_on:
        return f"The brightest place comes first; light {rests_on}."
    return "Without a survey no place is brighter than another."


def last_changes(corals: Iterable[Coral]) -> dict[int, Change]:
    """Return {coral pk: Change} between the last two conditions of each coral."""
    said = (
        HealthNote.objects.present()
        .filter(coral__in=corals, condition__isnull=False)
        .order_by("noted_on", "pk")
        .values_list("coral", "condition")
    )
    last: dict[int, int] = {}
    before: dict[int, int | None] = {}
    for coral, condition in said:
        before[coral], last[coral] = last.get(coral), condition
    changes = {coral: change_between(before[coral], now) for coral, now in last.items()}
    return {coral: change for coral, change in changes.items() if change}


def light_rank(tile: Tile) -> tuple[object, ...]:
    light = tile.status.light
    return (light is None, -light.par_umol if light else 0.0, tile.status.coral.name)


def change_rank(tile: Tile) -> tuple[object, ...]:
    steps = tile.change.steps if tile.change else 0
    is_real = bool(tile.change and tile.change.is_real)
    return (not is_real, steps >= 0, -abs(steps), tile.status.coral.name)


def colour_rank(tile: Tile) -> tuple[object, ...]:
    apart = tile.colour.difference if tile.colour else None
    return (
        apart is None,
        apart is not None and apart.low == 0.0,
        -apart.value if apart else 0.0,
        tile.status.coral.name,
    )


RANKS: dict[str, Callable[[Tile], Any]] = {
    BY_LIGHT: light_rank,
    BY_CHANGE: change_rank,
    BY_COLOUR: colour_rank,
}
