"""One thread of all processes of a host at a time, for each of any number of keys.

A key is a byte of one file, far beyond its end, that the system lets one process hold: nothing is
made or deleted for it, and whatever a process held is free once it dies. Threads of one process
are told apart in its own memory.
"""

import fcntl
import hashlib
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

# Another process is asked again whether it is done after so long [s].
LOOK_AGAIN_S = 0.05


class KeyLocks:
    """The locks of one file, which is made; it must stay open as long as any is held."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("ab")
        self._changed = threading.Condition()
        self._held: set[int] = set()

    @contextmanager
    def held(self, key: str, wait_s: float) -> Iterator[None]:
        """Hold a key until the end; go on without it where it can't be had in so long [s]."""
        until = time.monotonic() + wait_s
        byte = int.from_bytes(hashlib.sha256(key.encode()).digest()[:7])
        with self._changed:
            is_ours = self._changed.wait_for(lambda: byte not in self._held, wait_s)
            if is_ours:
                self._held.add(byte)
        if not is_ours:
            yield
            return
        try:
            self._wait_for_others(byte, until)
            yield
        finally:
            self._let_go(byte)

    def _wait_for_others(self, byte: int, until: float) -> None:
        """Take a byte from other processes, if they let go of it before the moment."""
        while True:
            try:
                fcntl.lockf(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, byte)
                return
            except (BlockingIOError, PermissionError):
                if time.monotonic() > until:
                    return
            except OSError:
                return  # a disk that knows no locks
            time.sleep(LOOK_AGAIN_S)

    def _let_go(self, byte: int) -> None:
        with self._changed:
            # Was it never had, as on a disk that knows no locks, there is nothing to free.
            with suppress(OSError):
                fcntl.lockf(self._file, fcntl.LOCK_UN, 1, byte)
            self._held.discard(byte)
            self._changed.notify_all()
