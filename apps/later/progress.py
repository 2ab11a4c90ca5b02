"""How far a job is, where all can see it while the job's transaction is still open.

What a transaction writes nobody else sees before its end, so this is in no table: it is in Redis
where the site has it, else in the host's own store. Where neither is, a page says that the job is
under way and no more.
"""

import logging
from typing import Protocol, cast

from django.core.cache import caches
from django.core.cache.backends.redis import RedisCache

from apps.common.kept import look_up, open_store, put

logger = logging.getLogger(__name__)

ROOM, KEPT_S = "jobs", 3600


class Progress(Protocol):
    """Hears that so many of so many parts are done, and what they are called."""

    def __call__(self, done: int, of: int, what: str = "") -> None: ...


def unheard(done: int, of: int, what: str = "") -> None:
    """Hear how far a thing is where nobody waits for it."""


def note_progress(key: str, done: int, of: int, what: str = "") -> None:
    """Say that `done` of `of` parts of a job are done; never fails, the job matters more.

    `what` is what the parts are called, where a number of them tells its keeper something.
    """
    cache = caches["default"]
    try:
        if isinstance(cache, RedisCache):
            cache.set(_name(key), [done, of, what], KEPT_S)
        else:
            put(open_store(ROOM), _name(key), (done, of, what), seconds=KEPT_S)
    except Exception:
        logger.warning("How far a job is could not be said", exc_info=True)


def read_progress(key: str) -> tuple[int, int, str] | None:
    """Return (done, of, what) of a job; None where nothing was said or it can't be looked up."""
    cache = caches["default"]
    try:
        if isinstance(cache, RedisCache):
            noted = cache.get(_name(key))
        else:
            store = open_store(ROOM)
            noted = None if store is None else look_up(store, _name(key))
        return cast("tuple[int, int, str]", tuple(noted)) if noted else None
    except Exception:
        logger.warning("How far a job is could not be read", exc_info=True)
        return None


def _name(key: str) -> str:
    # Other words than what was noted as two numbers, which a worker of before may still do.
    return f"job-parts-{key}"
