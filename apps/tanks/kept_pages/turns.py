"""Whose page a worker makes next: one after the other, but none waits for one that takes long."""

import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager

# A page that takes longer no longer keeps the next from being made beside it [s]. Our own choice: a
# page of an ordinary tank whose light is fitted for it takes less, one of years of surveys more.
LONG_S = 0.4
# So many a worker makes at once at most: our own choice, because each slows the others down.
MOST = 3


class Turns:
    """Lets threads through in the order in which they came.

    Pages made at once take turns at the processor and are all done late; one by one, the first is
    done early and the last no later, and what takes a moment, such as a reading that is saved,
    shares the processor with one of them only.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._changed = clock, threading.Condition()
        self._waiting: deque[object] = deque()
        self._began_s: dict[object, float] = {}

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for a turn, and have it until the end."""
        mine = object()
        with self._changed:
            self._waiting.append(mine)
            try:
                while self._waiting[0] is not mine or (left_s := self._left_s()) > 0.0:
                    self._changed.wait(left_s if self._waiting[0] is mine else None)
                self._began_s[mine] = self._clock()
            finally:
                self._waiting.remove(mine)
                self._changed.notify_all()
        try:
            yield
        finally:
            with self._changed:
                del self._began_s[mine]
                self._changed.notify_all()

    def _left_s(self) -> float:
        """Return how long the first who waits has to, if no turn ends before; 0: not at all [s]."""
        if len(self._began_s) >= MOST:
            return LONG_S
        latest_s = max(self._began_s.values(), default=float("-inf"))
        return max(0.0, latest_s + LONG_S - self._clock())
