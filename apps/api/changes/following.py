"""The changes of a user's tanks and of their own shelf since a cursor, a page at a time.

The shelf holds what lies in no tank: meters with their checks, the library of fixtures, plans
without a tank. Of each of these places changes come in the order in which others could see them: no
write that ends later can slip in before a place that was read (`TankStamp.head`).
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from apps.accounts.models import User
from apps.api.changes.cursor import WHOLE, Cursor, Place, UnfitCursor, epoch_now
from apps.api.changes.kinds import BY_TABLE, TANK, Words
from apps.tanks.kept_pages.models import RowChange, TankStamp
from apps.tanks.kept_pages.tables import shelf_of
from apps.tanks.models import Tank

PAGE_ROWS = 200
CREATED, CHANGED, DELETED = "created", "changed", "deleted"


@dataclass(frozen=True)
class Change:
    """One row that came, changed or went; where it is read, None where it is gone."""

    kind: str
    id: int
    tank: int | None
    change: str
    path: str | None


@dataclass(frozen=True)
class ChangesPage:
    """Some changes, the cursor after them, and whether more wait."""

    results: list[Change]
    cursor: str
    more: bool


def page_of_changes(user: User, since: Cursor | None, tank_pk: int | None = None) -> ChangesPage:
    """Return the changes since a cursor of all that a user may see, or of one tank of it.

    Without a cursor there are none yet: what is answered is the place of now. Raises UnfitCursor
    for one of another user, and for one that does not know of the shelf.
    """
    shelf = shelf_of(user.pk)
    pks = sorted(Tank.objects.visible_to(user).values_list("pk", flat=True))
    if tank_pk is not None:
        pks = [pk for pk in pks if pk == tank_pk]
        if since is not None:
            places = {pk: at for pk, at in since.places.items() if pk == tank_pk}
            since = Cursor(since.epoch, places)
    else:
        pks = [shelf, *pks]
        if since is not None and {pk for pk in since.places if pk < 0} != {shelf}:
            raise UnfitCursor
    heads = dict(TankStamp.objects.filter(pk__in=pks).values_list("pk", "head"))
    if since is None:
        now = {pk: place_of_now(heads.get(pk, 0)) for pk in pks}
        return ChangesPage([], Cursor(epoch_now(), now).word(), more=False)
    results, places = come_and_gone(pks, heads, since)
    rows, more = rows_after(places, heads)
    results += changes_of(rows, places)
    moved = places | last_places(rows, places)
    if not more:
        moved = {pk: place_of_now(at.head) for pk, at in moved.items()}
    return ChangesPage(results, Cursor(since.epoch, moved).word(), more)


def place_of_now(head: int) -> Place:
    """Return the Place after all that was written up to a head."""
    return Place(head, WHOLE, head)


def come_and_gone(
    pks: list[int], heads: dict[int, int], since: Cursor
) -> tuple[list[Change], dict[int, Place]]:
    """Return the tanks that came into a user's sight or went out of it, and the Place of each."""
    gone = sorted(since.places.keys() - set(pks))
    new = [pk for pk in pks if pk not in since.places]
    results = [Change(TANK.name, pk, pk, DELETED, None) for pk in gone]
    results += [Change(TANK.name, pk, pk, CREATED, TANK.path(pk, pk, {})) for pk in new]
    places = {pk: since.places.get(pk) or place_of_now(heads.get(pk, 0)) for pk in pks}
    return results, places


def rows_after(places: dict[int, Place], heads: dict[int, int]) -> tuple[list[RowChange], bool]:
    """Return the next changes of the tanks in turn, and whether there are more than a page."""
    rows: list[RowChange] = []
    for pk, place in places.items():
        if heads.get(pk, 0) < place.head:
            continue
        later = Q(head__gt=place.head)
        if place.pk != WHOLE:
            later |= Q(head=place.head, pk__gt=place.pk)
        of_tank = RowChange.objects.filter(later, tank_pk=pk).order_by("head", "pk")
        rows += of_tank[: PAGE_ROWS + 1 - len(rows)]
        if len(rows) > PAGE_ROWS:
            return rows[:PAGE_ROWS], True
    return rows, False


def last_places(rows: Iterable[RowChange], places: dict[int, Place]) -> dict[int, Place]:
    """Return the Place of the last of these rows of each tank."""
    return {row.tank_pk: Place(row.head, row.pk, places[row.tank_pk].start) for row in rows}


def changes_of(rows: list[RowChange], places: dict[int, Place]) -> list[Change]:
    """Return what is told of each row, in their order."""
    by_kind = defaultdict(list)
    for row in rows:
        by_kind[row.table].append(row.row_pk)
    there = {table: BY_TABLE[table].present(pks) for table, pks in by_kind.items()}
    return [change_of(row, there[row.table], places[row.tank_pk].start) for row in rows]


def change_of(row: RowChange, there: dict[int, tuple[int | None, Words]], start: int) -> Change:
    """Return what is told of a row; one that went to another place is gone from this."""
    kind = BY_TABLE[row.table]
    tank = row.tank_pk if row.tank_pk > 0 else None
    place, words = there.get(row.row_pk, (None, {}))
    if place != row.tank_pk:
        return Change(kind.name, row.row_pk, tank, DELETED, None)
    change = CREATED if row.born > start else CHANGED
    return Change(kind.name, row.row_pk, tank, change, kind.path(row.row_pk, tank, words))
