"""What a host sees of each request, and the addresses that only hosts ask."""

import logging
import time
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from apps.hosting.watching import metrics, request_mark
from apps.hosting.watching.log_lines import route_of
from apps.hosting.watching.views import health, ready, show_metrics

logger = logging.getLogger("reeflog.requests")
Answer = Callable[[HttpRequest], HttpResponse]


class HostPagesMiddleware:
    """Answers a host's programs before anything asks for HTTPS, a host's name or a session.

    They ask the app itself, not the site by its name.
    """

    PAGES = {"/health/": health, "/ready/": ready, "/metrics/": show_metrics}

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        page = self.PAGES.get(request.path)
        return page(request) if page else self.get_response(request)


class WatchingMiddleware:
    """Gives each request a mark, times it, and says what was slow or broke."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        mark = request_mark.begin(request.headers.get(request_mark.HEADER, ""))
        began = time.perf_counter()
        response = self.get_response(request)
        took_s = time.perf_counter() - began
        response[request_mark.HEADER] = mark
        if request.path.startswith(settings.STATIC_URL):
            return response
        match = getattr(request, "resolver_match", None)
        route = match.route if match else route_of(request.path)
        self._log(request, route or "/", response.status_code, took_s * 1000)
        if settings.METRICS_TOKEN:
            metrics.count_request(request.method or "", route or "/", response.status_code, took_s)
        return response

    @staticmethod
    def _log(request: HttpRequest, route: str, status: int, took_ms: float) -> None:
        is_slow = 0 < settings.SLOW_PAGE_MS <= took_ms
        level = logging.WARNING if is_slow or status >= 500 else logging.INFO
        facts = {"method": request.method, "route": route, "status": status, "ms": round(took_ms)}
        words = "Slow page" if is_slow else "Request"
        logger.log(level, words, extra=facts)
