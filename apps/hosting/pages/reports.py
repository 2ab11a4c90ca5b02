"""What browsers report of the page policy: counted, cut short, and logged without addresses."""

import json
import logging
from typing import Any

from django.core.cache import caches
from django.http import HttpRequest, HttpResponse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from apps.hosting.watching.log_lines import route_of

logger = logging.getLogger("reeflog.policy")
# A report has some hundred bytes; extensions of browsers send them by the thousand.
BYTES_MAX = 8_000
REPORTS_AN_HOUR = 60
CHARS_MAX = 100


@csrf_exempt
@require_POST
def take_report(request: HttpRequest) -> HttpResponse:
    """Log a report, as long as there are few of them; the answer is always the same."""
    if int(request.headers.get("Content-Length") or 0) <= BYTES_MAX and _has_room():
        report = _read(request.read(BYTES_MAX))
        if report:
            logger.warning("Page policy: something was refused", extra=report)
    return HttpResponse(status=204)


def _has_room() -> bool:
    """Count a report of this worker; False once there were enough this hour."""
    cache = caches["paces"]
    cache.add("policy reports", 0, 3600)
    return bool(cache.incr("policy reports") <= REPORTS_AN_HOUR)


def _read(body: bytes) -> dict[str, str]:
    """Return what is worth logging of a report: which rule, on what page, of which site."""
    try:
        stated: Any = json.loads(body)["csp-report"]
        path = "/" + str(stated["document-uri"]).split("://", 1)[-1].partition("/")[2]
        rule, blocked = stated["effective-directive"], stated.get("blocked-uri", "")
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}
    site = "/".join(str(blocked).split("?")[0].split("/")[:3])
    return {
        "rule": str(rule)[:CHARS_MAX],
        "blocked": site[:CHARS_MAX],
        "route": route_of(path.partition("?")[0]),
    }
