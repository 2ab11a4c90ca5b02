"""One photo is decoded at a time on a machine: a large one takes a worker to its memory's end."""

import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from django.conf import settings
from django.core.files import locks

# A photo takes a second at most; who waits longer than this must come back [s].
WAIT_S = 10.0
STEP_S = 0.05


class DecoderBusy(Exception):
    """Other photos are being worked on; nothing is wrong with this one."""


@contextmanager
def decoder(wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the machine's one decoder; raises DecoderBusy when others held it for `wait_s` [s]."""
    with ExitStack() as held:
        try:
            # A lock dies with its holder, so a killed worker leaves nothing behind.
            file = held.enter_context(Path(settings.DATA_DIR, "photo.lock").open("a"))
        except OSError:
            # Without a place to lock at, a photo is still better kept than refused.
            file = None
        until = time.monotonic() + wait_s
        while file and not locks.lock(file, locks.LOCK_EX | locks.LOCK_NB):
            if time.monotonic() >= until:
                raise DecoderBusy
            time.sleep(STEP_S)
        # Closing the file gives the lock back.
        yield
