"""Every kind of row that can be deleted and restored: its tank, its words, its page.

The tank's app lies below most of them: they add their kinds to REMOVABLE, so that one list is asked
by the page of what was deleted, by the question before a tank goes and by `purge_deleted`.
`tests/tanks/test_deleted.py` holds it against all Removable models.
"""

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apps.common.registry import Registry
from apps.common.removal import Removable
from apps.tanks.access import require_write
from apps.tanks.models import Tank


@dataclass(frozen=True)
class RemovableKind:
    """One kind of Removable row; lookups are written as the ORM takes them."""

    key: str  # in addresses
    model: type[Removable]
    noun: str
    plural: str
    words: Callable[[Removable], str]  # tells one row from its like
    page: Callable[[Removable], str]  # the address where a present row is seen
    tank: str = ""  # the lookup to its tank; "" for what is its keeper's own
    owner: str = ""  # the lookup to its keeper where it has no tank
    # Rows it lies within: while one of them is deleted it can't come back alone.
    within: tuple[str, ...] = ()
    # What goes with it and is no kind of its own, as (lookup, noun, plural).
    parts: tuple[tuple[str, str, str], ...] = ()
    # A lookup to rows that name it and would lose it: a purge passes it by while there are any.
    kept_for: str = ""
    restore: Callable[[Removable], None] = lambda row: row.restore()

    def rows(self) -> QuerySet:
        """All rows, deleted or not, with what their words need."""
        related = [name for name in (self.tank, self.owner, *self.within) if name]
        return self.model._base_manager.select_related(*related)

    def of_tank(self, tank: Tank) -> QuerySet:
        if not self.tank:
            return self.rows().none()
        present = {f"{name}__removed_at": None for name in self.within}
        return self.rows().filter(**{self.tank: tank}, **present)

    def of_keeper(self, user) -> QuerySet:
        """Rows that are a keeper's own and lie in no tank."""
        if not self.owner:
            return self.rows().none()
        no_tank = {self.tank: None} if self.tank else {}
        return self.rows().filter(**{self.owner: user}, **no_tank)

    def seen_by(self, user) -> QuerySet:
        """Rows, deleted or not, of what a keeper may look at."""
        seen = Q(pk__in=self.of_keeper(user).values("pk"))
        if self.tank:
            seen |= Q(**{f"{self.tank}__in": Tank.objects.visible_to(user)})
        return self.rows().filter(seen)

    def tank_of(self, row: Removable) -> Tank | None:
        """Return the tank a row lies in; None for its keeper's own."""
        for name in self.tank.split("__") if self.tank else ():
            row = getattr(row, name)
        return row if self.tank else None

    def deleted_above(self, row: Removable) -> bool:
        """Tell whether a row lies within another that is deleted itself."""
        present = {f"{name}__removed_at": None for name in self.within}
        return not self.model._base_manager.filter(pk=row.pk, **present).exists()

    def counted(self, rows: QuerySet) -> list[tuple[int, str]]:
        """Return how many rows there are, and how many of their parts, as (count, noun)."""
        names = [(None, self.noun, self.plural), *self.parts]
        asked = {f"n{k}": Count(name or "pk", distinct=True) for k, (name, *_) in enumerate(names)}
        found = rows.order_by().aggregate(**asked)
        counts = [(found[f"n{k}"], *words) for k, (_, *words) in enumerate(names)]
        return [(n, one if n == 1 else many) for n, one, many in counts if n]


REMOVABLE: Registry[RemovableKind] = Registry()


def kind_named(key: str) -> RemovableKind:
    """Return the kind an address names, or raise Http404."""
    kind = next((kind for kind in REMOVABLE.collect() if kind.key == key), None)
    if kind is None:
        raise Http404
    return kind


def writable_row(user, kind: RemovableKind, pk: int) -> Removable:
    """Return a row that may be deleted; Http404 for a stranger, PermissionDenied for a viewer."""
    row = get_object_or_404(kind.seen_by(user), pk=pk)
    tank = kind.tank_of(row)
    if tank is not None:
        require_write(user, tank)
    return row
