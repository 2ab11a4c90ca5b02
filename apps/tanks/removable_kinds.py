"""Every kind of row that can be deleted and restored: its tank, its words, its page.

The tank's app lies below most of them: they add their kinds to REMOVABLE, so that one list is read
by the page of what was deleted, by the question before a tank goes and by `purge_deleted`.
`tests/tanks/test_deleted.py` holds it against all Removable models.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from django.core.exceptions import PermissionDenied
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

    key: str  # in the address of Recently deleted
    model: type[Removable]
    noun: str
    plural: str
    words: Callable[[Removable], str]  # tells one row from its like
    page: Callable[[Removable], str]  # the address where a present row is seen
    at: str  # the route of one row, as Django writes it: remove/ and restore/ lie below
    name: str  # of its addresses: coral makes coral_remove and coral_restore
    # The lookups of the words in its route; a word without one is the row's key.
    lookups: Mapping[str, str] = field(default_factory=dict)
    tank: str = ""  # the lookup to its tank; "" for what is its keeper's own
    owner: str = ""  # the lookup to its keeper where it has no tank
    # The rows a user looks after, where that is not their keeper alone.
    kept_by: Callable[[object], QuerySet] | None = None
    # Rows it lies within: while one of them is deleted it can't come back alone.
    within: tuple[str, ...] = ()
    # What goes with it and is no kind of its own, as (lookup, noun, plural).
    parts: tuple[tuple[str, str, str], ...] = ()
    # A lookup to rows that name it and would lose it: a purge passes it by while there are any.
    kept_for: str = ""
    remove: Callable[[Removable], None] = lambda row: row.remove()
    restore: Callable[[Removable], None] = lambda row: row.restore()
    # How a sentence names a row; its words without it.
    called: Callable[[Removable], str] | None = None
    remark: str = ""  # a sentence on what stays or goes with it
    # Where a keeper goes on once it is deleted; to its page without it.
    left: Callable[[Removable], str] | None = None
    # Where Undo leads; to its page without it.
    undone: Callable[[Removable], str] | None = None
    # The page, as (template, context), that asks before it goes.
    question: Callable[[Removable], tuple[str, dict[str, object]]] | None = None
    # Rows of a keeper's own that others see too: these are refused with a word, not as strangers.
    shown_to: Callable[[object], QuerySet] | None = None
    # For a row that its page may lack: where to go without it. Takes the user and the words of
    # the address, and refuses those who may not delete it.
    absent: Callable[..., str] | None = None

    def sentence_name(self, row: Removable) -> str:
        return (self.called or self.words)(row)

    def page_left(self, row: Removable) -> str:
        return (self.left or self.page)(row)

    def page_undone(self, row: Removable) -> str:
        return (self.undone or self.page)(row)

    def lookup(self, where: Mapping[str, object]) -> dict[str, object]:
        """Return the filter that finds the row which the words of an address name."""
        return {self.lookups.get(word, "pk"): value for word, value in where.items()}

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
        if self.kept_by is not None:
            return self.rows().filter(pk__in=self.kept_by(user).values("pk"))
        no_tank = {self.tank: None} if self.tank else {}
        return self.rows().filter(**{self.owner: user}, **no_tank)

    def seen_by(self, user) -> QuerySet:
        """Rows, deleted or not, of what a keeper may look at."""
        seen = Q(pk__in=self.of_keeper(user).values("pk"))
        if self.tank:
            seen |= Q(**{f"{self.tank}__in": Tank.objects.visible_to(user)})
        return self.rows().filter(seen)

    def present_to(self, user) -> QuerySet:
        """Present rows that a keeper may look at."""
        seen = Q(pk__in=self.seen_by(user).values("pk"))
        if self.shown_to:
            seen |= Q(pk__in=self.shown_to(user).values("pk"))
        present = {f"{name}__removed_at": None for name in self.within}
        return self.rows().filter(seen, removed_at=None, **present)

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
        aggregates = {
            f"n{k}": Count(name or "pk", distinct=True) for k, (name, *_) in enumerate(names)
        }
        result = rows.order_by().aggregate(**aggregates)
        counts = [(result[f"n{k}"], *words) for k, (_, *words) in enumerate(names)]
        return [(n, one if n == 1 else many) for n, one, many in counts if n]


REMOVABLE: Registry[RemovableKind] = Registry()


def kind_named(key: str) -> RemovableKind:
    """Return the kind an address names, or raise Http404."""
    kind = next((kind for kind in REMOVABLE.collect() if kind.key == key), None)
    if kind is None:
        raise Http404
    return kind


def writable_row(user, kind: RemovableKind, **lookup: object) -> Removable:
    """Return a row, deleted or not; Http404 for a stranger, PermissionDenied for a viewer."""
    row = get_object_or_404(kind.seen_by(user), **lookup)
    _require_change(user, kind, row)
    return row


def writable_present_row(user, kind: RemovableKind, **lookup: object) -> Removable:
    """Return the same of rows that are not deleted, nor what they lie within."""
    row = get_object_or_404(kind.present_to(user), **lookup)
    _require_change(user, kind, row)
    return row


def _require_change(user, kind: RemovableKind, row: Removable) -> None:
    tank = kind.tank_of(row)
    if tank is not None:
        require_write(user, tank)
    elif not kind.of_keeper(user).filter(pk=row.pk).exists():
        raise PermissionDenied
