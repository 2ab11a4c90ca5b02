"""Backups that only a key opens, in the form of age (age-encryption.org/v1).

A key file holds a line AGE-SECRET-KEY-1..., which locks and opens, or its public part age1...,
which only locks: a server that holds that alone can't open what it wrote. The program `age` opens
these backups too.
"""

import os
import tarfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import pyrage
from pyrage.x25519 import Identity, Recipient

from apps.hosting.backup.form import CHUNK, UnfitBackup

AGE_START = b"age-encryption.org/v1"
SECRET_START, PUBLIC_START = "AGE-SECRET-KEY-1", "age1"


def make_key(path: Path) -> str:
    """Write a new key file that its owner alone reads; return its public part."""
    key = Identity.generate()
    try:
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        raise UnfitBackup(f"{path} is there already: a key is never overwritten.") from None
    with os.fdopen(handle, "w") as file:
        file.write(f"# public key: {key.to_public()}\n{key}\n")
    return str(key.to_public())


def read_recipient(path: Path) -> Recipient:
    """Return what a key file locks with."""
    line = _key_line(path)
    try:
        if line.startswith(SECRET_START):
            return Identity.from_str(line).to_public()
        return Recipient.from_str(line)
    except (pyrage.IdentityError, pyrage.RecipientError):
        raise UnfitBackup(f"{path} holds no key of age.") from None


def read_identity(path: Path) -> Identity:
    """Return what a key file opens with."""
    line = _key_line(path)
    if line.startswith(PUBLIC_START):
        raise UnfitBackup(f"{path} holds a public key, which locks and does not open.")
    try:
        return Identity.from_str(line)
    except pyrage.IdentityError:
        raise UnfitBackup(f"{path} holds no key of age.") from None


def _key_line(path: Path) -> str:
    try:
        lines = path.read_text().splitlines()
    except (OSError, UnicodeDecodeError) as problem:
        raise UnfitBackup(f"{path} can't be read as a key file.") from problem
    return next((line.strip() for line in lines if line.strip() and line[0] != "#"), "")


@contextmanager
def locked(out: IO[bytes], recipient: Recipient) -> Iterator[IO[bytes]]:
    """Yield a file to write to; what is written comes out locked."""
    with _piped("w", lambda reader: pyrage.encrypt_io(reader, out, [recipient])) as writer:
        yield writer


@contextmanager
def unlocked(file: IO[bytes], identity: Identity) -> Iterator[IO[bytes]]:
    """Yield a file to read from: what a locked one holds."""
    with _piped("r", lambda writer: pyrage.decrypt_io(file, writer, [identity])) as reader:
        yield reader


@contextmanager
def _piped(mode: str, work: Callable[[IO[bytes]], None]) -> Iterator[IO[bytes]]:
    """Yield one end of a pipe while `work` has the other in a thread."""
    read_end, write_end = os.pipe()
    ours, theirs = (write_end, read_end) if mode == "w" else (read_end, write_end)
    problems: list[Exception] = []

    def run() -> None:
        try:
            with os.fdopen(theirs, "rb" if mode == "w" else "wb") as end:
                work(end)
        except Exception as problem:
            problems.append(problem)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        with os.fdopen(ours, "wb" if mode == "w" else "rb") as end:
            yield end
            # What is wrong with the very last part is to be seen too.
            while mode == "r" and end.read(CHUNK):
                pass
    except (OSError, tarfile.TarError):
        thread.join()
        # A pipe that ends early is the consequence; the cause stands in the other thread.
        _raise_cause(problems)
        raise
    thread.join()
    _raise_cause(problems)


def _raise_cause(problems: list[Exception]) -> None:
    for problem in problems:
        if isinstance(problem, pyrage.DecryptError):
            raise UnfitBackup("This key does not open it, or it is damaged.") from problem
        if not isinstance(problem, BrokenPipeError):
            raise problem
