"""How busy a process is with the pages that it serves, so that what can wait stands back."""

import math
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.http import HttpRequest, HttpResponse

# What was some seconds ago counts less [s]. Our own choice: a page in which a keeper waited for
# their map is over after a few seconds.
FADE_S = 2.0
# Busy where requests were under way for more than this part of the last seconds [1]. Our own
# choice: a process that answers for a fifth of the time has time for a fit beside.
BUSY_PART = 0.2


class Traffic:
    """The requests under way in this process, and for which part of late there were any."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._count, self._part, self._at_s = 0, 0.0, clock()

    @contextmanager
    def request(self) -> Iterator[None]:
        """Count a request as long as it is under way."""
        self._add(1)
        try:
            yield
        finally:
            self._add(-1)

    @property
    def is_busy(self) -> bool:
        """Whether a request is under way, or they were for much of the last seconds."""
        with self._lock:
            self._fade()
            return self._count > 0 or self._part > BUSY_PART

    def _add(self, number: int) -> None:
        with self._lock:
            self._fade()
            self._count += number

    def _fade(self) -> None:
        now_s, goes_to = self._clock(), float(self._count > 0)
        left = math.exp(-(now_s - self._at_s) / FADE_S)
        self._part, self._at_s = goes_to + (self._part - goes_to) * left, now_s


TRAFFIC = Traffic()


class TrafficMiddleware:
    """Counts the requests that this process answers."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with TRAFFIC.request():
            return self.get_response(request)
