"""Log lines as JSON that hold no personal data: no e-mail, no address of a visitor, no secret.

Our own lines say the route (`tanks/<int:pk>/`), never the path, which may hold a token. What other
code logs is cleaned here, tracebacks included, since a database names the value that it refuses.
"""

import logging
import re
from typing import Any

from django.urls import Resolver404, resolve
from pythonjsonlogger.json import JsonFormatter

from apps.hosting.watching.request_mark import current

FIELDS = "%(asctime)s %(levelname)s %(name)s %(message)s"
NAMES = {"asctime": "at", "levelname": "level", "name": "logger"}
HIDDEN = (
    (re.compile(r"[^\s@\"'(<=:]+@[^\s@\"')>]+\.\w+"), "(e-mail)"),
    (re.compile(r"\b(?:\d{1,3}\.){3}\d{1,3}\b"), "(address)"),
    (re.compile(r"(?<![\w:])(?:[0-9a-fA-F]{1,4}:){3,7}(?::?[0-9a-fA-F]{0,4})+"), "(address)"),
    # 32 random bytes, as all our secret addresses are made, and whatever is longer.
    (re.compile(r"\b[\w-]{43,}(?![\w-])"), "(secret)"),
)


class LogLines(JsonFormatter):
    """One JSON object a line, with the request's mark."""

    def __init__(self) -> None:
        super().__init__(FIELDS, rename_fields=NAMES, datefmt="%Y-%m-%dT%H:%M:%S%z")

    def add_fields(
        self, log_data: dict[str, Any], record: logging.LogRecord, message_dict: dict[str, Any]
    ) -> None:
        super().add_fields(log_data, record, message_dict)
        # Django hands the whole request and response along.
        for name in ("request", "response", "sinfo", "server_time"):
            log_data.pop(name, None)
        if mark := current():
            log_data["request_id"] = mark

    def format(self, record: logging.LogRecord) -> str:
        return without_persons(str(super().format(record)))


class RouteForPath(logging.Filter):
    """Puts the route in the place of the path in what Django says of a request."""

    def filter(self, record: logging.LogRecord) -> bool:
        path = getattr(getattr(record, "request", None), "path", None)
        if path and isinstance(record.args, tuple):
            record.args = tuple(route_of(path) if arg == path else arg for arg in record.args)
        return True


def route_of(path: str) -> str:
    """Return the pattern of an address, which names no row and holds no secret."""
    try:
        return str(resolve(path).route) or "/"
    except Resolver404:
        return "(no such page)"


def without_persons(line: str) -> str:
    for pattern, word in HIDDEN:
        line = pattern.sub(word, line)
    return line
