"""Says which queries are slow, without the values in them."""

import logging
import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db.backends.base.base import BaseDatabaseWrapper

logger = logging.getLogger("reeflog.queries")
SQL_CHARS_MAX = 2000


def timed(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
    """Run a query; one that took too long is logged as it was written, values left out."""
    began = time.perf_counter()
    try:
        return execute(sql, params, many, context)
    finally:
        took_ms = (time.perf_counter() - began) * 1000
        if took_ms >= settings.SLOW_QUERY_MS:
            facts = {"ms": round(took_ms), "sql": str(sql)[:SQL_CHARS_MAX]}
            logger.warning("Slow query", extra=facts)


def watch(*, connection: BaseDatabaseWrapper, **_signal: object) -> None:
    """Time the queries of a connection; called for each that is made."""
    if settings.SLOW_QUERY_MS and timed not in connection.execute_wrappers:
        connection.execute_wrappers.append(timed)
