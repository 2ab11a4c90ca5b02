"""What is costly is worked out once for all workers of a host, and kept on its disk.

    field = kept(f"light-map-{digest}", lambda: fit(...))

Two layers: a worker's own memory, then a folder in the data folder that all workers of the host
share (each host has its own). A key is made of all that its answer rests on, so nothing is ever
out of date; to it comes a digest of the app's own code, so that what older code kept is never
opened. What is there is pickled, and opened only where it bears a digest made with the secret key,
in a folder that belongs to the app's user: whoever can write there but does not know the key
can make the app work things out again, no more. Without the store (a full or read-only disk, a
folder of somebody else) all is worked out, and nothing fails.
"""

import hashlib
import hmac
import logging
import os
import pickle
import shutil
import sqlite3
import sys
import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import lru_cache
from pathlib import Path
from typing import TypeVar, cast

import diskcache
import numpy as np
import scipy
from diskcache.core import MODE_BINARY, MODE_RAW
from django.conf import settings
from django.core.cache import caches

from apps.common.serving.key_locks import KeyLocks

logger = logging.getLogger(__name__)
Answer = TypeVar("Answer")
Buffer = bytes | memoryview

ENTRIES_MAX = 5_000
ENTRY_S_MAX = 30 * 86_400.0
# A room may take one part of so many, beside what the rest may.
ROOM_PART = 4
# Photos and the database come first where the disk is short [MB].
FREE_MB_MIN = 256
# A worker that waits longer works it out itself: the other may be stuck, or was killed [s].
WAIT_S = 20.0
# A folder that could not be had, as on a full disk, is tried again after so long [s].
TRY_AGAIN_S = 60.0
# What is smaller stands in a row: a file of its own costs a folder, an opening and a deletion.
FILE_BYTES_MIN = 1 << 20
SIGNATURE_BYTES = 32
# What a store that can't be read or written raises.
BROKEN = (OSError, sqlite3.Error, diskcache.Timeout)
# What an answer rests on besides its key: the demo is on the front page.
CODE = (("apps", "*.py"), ("reeflog", "*.py"), ("templates", "*"), ("static", "*"))
# Folders that could not be had, and until when they are not tried again [s].
_broken_until: dict[str, float] = {}
# What threads that open a folder at once must do one after the other, and what stays of it.
_opening = threading.Lock()
_locks: dict[str, KeyLocks] = {}


class Unreadable(Exception):
    """What is stored was not written by this app, or not whole."""


class SignedDisk(diskcache.Disk):
    """Values are pickled behind a keyed digest, and nothing else is ever unpickled."""

    def store(self, value: object, read: bool, key: object = diskcache.core.UNKNOWN) -> object:
        data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
        return super().store(signature(data) + data, read, key)

    def fetch(self, mode: int, filename: str | None, value: object, read: bool) -> object:
        if mode not in (MODE_RAW, MODE_BINARY) or read:
            raise Unreadable
        signed = memoryview(super().fetch(mode, filename, value, read))
        stated, data = signed[:SIGNATURE_BYTES], signed[SIGNATURE_BYTES:]
        if not hmac.compare_digest(bytes(stated), signature(data)):
            raise Unreadable
        try:
            return pickle.loads(data)
        except Exception as problem:
            raise Unreadable from problem

    def get(self, key: object, raw: bool) -> object:
        if not raw:
            raise Unreadable
        return super().get(key, raw)


def signature(data: Buffer) -> bytes:
    """Return the keyed digest of bytes."""
    secret = hashlib.sha256(b"kept" + settings.SECRET_KEY.encode()).digest()
    return hashlib.blake2b(data, key=secret, digest_size=SIGNATURE_BYTES).digest()


class Store(diskcache.Cache):
    """The folder's answers, and who is at work on one."""

    def __init__(self, folder: str, **options: object) -> None:
        super().__init__(folder, **options)
        # One a process and folder for good: two of one file would not know of each other, and the
        # end of one frees what the other holds.
        if folder not in _locks:
            _locks[folder] = KeyLocks(Path(folder) / "locks")
        self.locks = _locks[folder]


def kept(key: str, make: Callable[[], Answer]) -> Answer:
    """Return make(), or what it returned for this key in any worker of the host; never None."""
    result: Answer | None = caches["maps"].get(key)
    if result is None:
        result = shared(key, make)
        caches["maps"].set(key, result)
    return result


def keep(key: str, value: object) -> None:
    """Keep a value in place of what was kept for its key."""
    caches["maps"].set(key, value)
    put(open_store(), key, value)


def shared(key: str, make: Callable[[], Answer]) -> Answer:
    """Return what the host's store has for a key, else make() and store it."""
    store = open_store()
    if store is None:
        return make()
    # A key is for one kind of answer.
    result = cast("Answer | None", look_up(store, key))
    if result is None:
        with alone_with(store, key):
            # Another worker may have made it while this one waited.
            result = cast("Answer | None", look_up(store, key))
            if result is None:
                result = make()
                put(store, key, result)
    return result


def open_store(room: str = "") -> Store | None:
    """Return the host's store, or a room of it for one kind of thing, so that none crowds another.

    None where it is turned off or can't be had.
    """
    if not settings.KEPT_DIR or not settings.KEPT_MB_MAX:
        return None
    folder, megabytes = Path(settings.KEPT_DIR), settings.KEPT_MB_MAX
    if room:
        folder, megabytes = folder / room, max(1, megabytes // ROOM_PART)
    store = _opened(str(folder), megabytes)
    if store is not None and not os.path.exists(
        os.path.join(store.directory, diskcache.core.DBNAME)
    ):
        # Somebody deleted the folder under this worker.
        _open.cache_clear()
        store = _opened(str(folder), megabytes)
    return store


def _opened(folder: str, megabytes: int) -> Store | None:
    """Return the store of a folder; None where it can't be had, which is tried again later."""
    if time.monotonic() < _broken_until.get(folder, 0.0):
        return None
    try:
        with _opening:
            return _open(folder, megabytes)
    except BROKEN:
        logger.warning("Nothing can be kept in %s", folder, exc_info=True)
        _broken_until[folder] = time.monotonic() + TRY_AGAIN_S
        return None


@lru_cache(maxsize=4)
def _open(folder: str, megabytes: int) -> Store:
    os.makedirs(folder, mode=0o700, exist_ok=True)
    facts = os.stat(folder)
    if facts.st_uid != os.geteuid() or facts.st_mode & 0o022:
        raise PermissionError(f"{folder} can be written by others.")
    return Store(
        folder,
        timeout=2,
        disk=SignedDisk,
        size_limit=megabytes << 20,
        # By age of storing: looking something up then writes nothing.
        eviction_policy="least-recently-stored",
        disk_min_file_size=FILE_BYTES_MIN,
        sqlite_cache_size=512,
        sqlite_mmap_size=0,
    )


def look_up(store: Store, key: str) -> object:
    """Return what a store has for a key; None where it has nothing that can be read."""
    try:
        return store.get(full_key(key))
    except (Unreadable, *BROKEN):
        return None


def put(store: Store | None, key: str, value: object, *, seconds: float = ENTRY_S_MAX) -> None:
    """Store a value if there is a store and it can be; drop the oldest beyond ENTRIES_MAX."""
    if store is None:
        return
    try:
        if shutil.disk_usage(store.directory).free < FREE_MB_MIN << 20:
            return
        store.set(full_key(key), value, expire=seconds)
        for _ in range(len(store) - ENTRIES_MAX):
            store.delete(next(iter(store)))
    except (Unreadable, StopIteration, *BROKEN):
        logger.warning("An answer could not be kept", exc_info=True)


def full_key(key: str) -> str:
    """Return a key with the code it holds for."""
    return f"{code_digest()}-{digest_of(key)}"


def digest_of(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


@lru_cache(maxsize=1)
def code_digest() -> str:
    """Return a digest of the app's code and its demo's, of what its pages are made of, and of what
    counts and pickles under it."""
    result = hashlib.sha256(
        repr((sys.version_info[:3], np.__version__, scipy.__version__)).encode()
    )
    base = Path(settings.BASE_DIR)
    for folder, pattern in CODE:
        for path in sorted(p for p in (base / folder).rglob(pattern) if p.is_file()):
            result.update(path.read_bytes())
    return result.hexdigest()[:16]


def alone_with(store: Store, key: str) -> AbstractContextManager[None]:
    """Hold what a store has for a key to be made, so that no two workers make it at once.

    It goes on without after WAIT_S.
    """
    return store.locks.held(key, WAIT_S)
