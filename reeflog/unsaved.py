"""Telling what keeps a site from saving apart from a mistake of ours: it is the host's to mend.

A disk without room, one that became read-only, and a database, or Redis, that went away.
"""

import errno
import sqlite3
from collections.abc import Iterator
from enum import StrEnum

from django.db import InterfaceError, OperationalError


class Why(StrEnum):
    FULL = "full"
    READ_ONLY = "read-only"
    NO_DATABASE = "no database"


# A quota or a bound on the size of files is a disk without room, too.
ERRNO = {
    errno.ENOSPC: Why.FULL,
    errno.EDQUOT: Why.FULL,
    errno.EFBIG: Why.FULL,
    errno.EROFS: Why.READ_ONLY,
}
# SQLite says "disk I/O error" where its log can't grow; the primary code is the low byte.
SQLITE = {
    sqlite3.SQLITE_FULL: Why.FULL,
    sqlite3.SQLITE_IOERR: Why.FULL,
    sqlite3.SQLITE_CANTOPEN: Why.FULL,
    sqlite3.SQLITE_READONLY: Why.READ_ONLY,
}
# https://www.postgresql.org/docs/current/errcodes-appendix.html: disk_full,
# read_only_sql_transaction, admin_shutdown, crash_shutdown, cannot_connect_now.
POSTGRESQL = {
    "53100": Why.FULL,
    "25006": Why.READ_ONLY,
    "57P01": Why.NO_DATABASE,
    "57P02": Why.NO_DATABASE,
    "57P03": Why.NO_DATABASE,
}
# The class of connection exceptions.
POSTGRESQL_CONNECTION = "08"

REDIS_LOST = {"ConnectionError", "TimeoutError", "BusyLoadingError"}


def why_unsaved(problem: BaseException | None) -> Why | None:
    """Return what an exception, or one behind it, says of the host's machine; None for others."""
    reasons = [why for one in chain(problem) if (why := says(one))]
    return reasons[0] if reasons else None


def chain(problem: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while problem is not None and id(problem) not in seen:
        seen.add(id(problem))
        yield problem
        problem = problem.__cause__ or problem.__context__


def says(problem: BaseException) -> Why | None:
    if isinstance(problem, sqlite3.Error):
        return SQLITE.get(getattr(problem, "sqlite_errorcode", 0) & 0xFF)
    if hasattr(problem, "sqlstate"):
        return _says_postgresql(problem)
    if type(problem).__module__.startswith("redis"):
        # Loaded only where it is used.
        return Why.NO_DATABASE if type(problem).__name__ in REDIS_LOST else None
    return ERRNO.get(problem.errno or 0) if isinstance(problem, OSError) else None


def _says_postgresql(problem: BaseException) -> Why | None:
    state = getattr(problem, "sqlstate", None)
    if state is None:
        # The line broke before the server could say anything: no answer, so no code.
        names = {kind.__name__ for kind in type(problem).__mro__}
        lost = names & {OperationalError.__name__, InterfaceError.__name__}
        return Why.NO_DATABASE if lost else None
    if state.startswith(POSTGRESQL_CONNECTION):
        return Why.NO_DATABASE
    return POSTGRESQL.get(state)
