"""Telling a disk without room from a mistake of ours: the one is the host's to mend."""

import errno
import sqlite3
from collections.abc import Iterator

NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
# SQLite says "disk I/O error" where its log can't grow; the primary code is the low byte.
SQLITE_NO_ROOM = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN}
# The SQLSTATE "disk_full" of PostgreSQL, https://www.postgresql.org/docs/current/errcodes-appendix.html
POSTGRESQL_NO_ROOM = "53100"


def is_disk_full(problem: BaseException | None) -> bool:
    """Return whether an exception, or one behind it, says that the disk has no room left."""
    return any(says_no_room(one) for one in chain(problem))


def chain(problem: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while problem is not None and id(problem) not in seen:
        seen.add(id(problem))
        yield problem
        problem = problem.__cause__ or problem.__context__


def says_no_room(problem: BaseException) -> bool:
    if isinstance(problem, sqlite3.Error):
        return getattr(problem, "sqlite_errorcode", 0) & 0xFF in SQLITE_NO_ROOM
    if getattr(problem, "sqlstate", None) == POSTGRESQL_NO_ROOM:
        return True
    return isinstance(problem, OSError) and problem.errno in NO_ROOM
