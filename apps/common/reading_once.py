"""Reads that several parts of one page share, made once while the page is made.

    @reading_once()             # on a view that only reads
    def tank_detail(request, tank_pk): ...

    def light_history(tank):
        return read_once(("history", tank.pk), lambda: ...)

Outside of such a view every read is made anew, so that what writes never meets what was.
"""

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar, cast

Read = TypeVar("Read")

_kept: ContextVar[dict[Hashable, object] | None] = ContextVar("kept", default=None)


@contextmanager
def reading_once() -> Iterator[None]:
    """Keep what `read_once` is asked for until the end; an inner one leaves it to the outer."""
    if _kept.get() is not None:
        yield
        return
    token = _kept.set({})
    try:
        yield
    finally:
        _kept.reset(token)


def read_once(key: Hashable, read: Callable[[], Read]) -> Read:
    """Return read(), or what it returned for this key before on the same page."""
    kept = _kept.get()
    if kept is None:
        return read()
    if key not in kept:
        kept[key] = read()
    # The key names the read, and so what it returns.
    return cast(Read, kept[key])
