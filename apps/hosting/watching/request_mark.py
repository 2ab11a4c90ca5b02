"""Every request has a mark that its log lines, its answer and its queries share."""

import re
import secrets
from contextvars import ContextVar

HEADER = "X-Request-ID"
# A proxy's own mark is taken over when it looks like one.
FIT = re.compile(r"[A-Za-z0-9-]{8,64}")

_current: ContextVar[str] = ContextVar("request mark", default="")


def begin(stated: str) -> str:
    """Take over a proxy's mark, or make one; return it."""
    mark = stated if FIT.fullmatch(stated) else secrets.token_hex(8)
    _current.set(mark)
    return mark


def current() -> str:
    """Return the mark of the request that is being answered; "" outside of one."""
    return _current.get()
