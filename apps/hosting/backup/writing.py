"""Making a backup: database and files of one moment, while keepers go on.

A file is there before the row that names it is committed, goes only after that row is gone, and
never changes. So files are packed first, then a moment of the database is held and the files that
its rows name and were not packed yet are. If one is gone meanwhile, so is its row, and a new moment
is held; the database is copied out of the first one that has all its files.
"""

import contextlib
import hashlib
import io
import os
import tarfile
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from django.conf import settings
from django.core.files.storage import Storage, default_storage
from django.db import connection
from django.utils import timezone
from pyrage.x25519 import Recipient

from apps.hosting.backup import form
from apps.hosting.backup.form import Manifest, Member, UnfitBackup
from apps.hosting.backup.moment import Contents, files_of, moment_held
from apps.hosting.backup.sealing import locked

# Enough for any rate of deleting; a backup with a file or two missing beats none.
MOMENTS_MAX = 100


class Summed:
    """Reads a file and sums it up on the way."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file, self.sum = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        part = self.file.read(size)
        self.sum.update(part)
        return part


class Packing:
    """A tar that is being written, and what is in it so far."""

    def __init__(self, tar: tarfile.TarFile, storage: Storage) -> None:
        self.tar, self.storage = tar, storage
        self.members: dict[str, Member] = {}

    @property
    def paths(self) -> set[str]:
        """The files of the storage that are packed."""
        start = form.FILES
        return {name.removeprefix(start) for name in self.members if name.startswith(start)}

    def add(self, name: str, file: IO[bytes], size: int) -> None:
        info, summed = tarfile.TarInfo(name), Summed(file)
        info.size, info.mtime, info.mode = size, int(timezone.now().timestamp()), 0o600
        self.tar.addfile(info, summed)
        self.members[name] = Member(summed.sum.hexdigest(), size)

    def add_text(self, name: str, text: bytes) -> None:
        self.add(name, io.BytesIO(text), len(text))

    def add_files(self, paths: Iterable[str]) -> list[str]:
        """Pack what is not packed yet; return what the storage has not."""
        absent = []
        for path in sorted(paths):
            if form.FILES + path in self.members:
                continue
            try:
                file = self.storage.open(path)
                # Asked by name, which a file that is just being deleted has no more.
                size = file.size
            except FileNotFoundError:
                absent.append(path)
            else:
                with file:
                    self.add(form.FILES + path, file, size)
        return absent


def back_up(folder: Path, recipient: Recipient | None = None) -> tuple[Path, Manifest]:
    """Write a backup into a folder, whole or not at all; return its path and manifest."""
    path = _new_path(folder, ".tar.age" if recipient else ".tar")
    partial = path.with_name(f".{path.name}.partial")
    try:
        with _private(partial) as out:
            if recipient:
                with locked(out, recipient) as plain:
                    manifest = _pack(plain)
            else:
                manifest = _pack(out)
            out.flush()
            os.fsync(out.fileno())
        partial.rename(path)
        _sync_folder(folder)
    except OSError as problem:
        raise UnfitBackup(f"{folder} can't be written: {problem.strerror}.") from problem
    finally:
        partial.unlink(missing_ok=True)
    return path, manifest


def _pack(out: IO[bytes]) -> Manifest:
    # As a stream: what locks it reads it only once.
    with tarfile.open(fileobj=out, mode="w|", format=tarfile.PAX_FORMAT) as tar:
        packing = Packing(tar, default_storage)
        manifest = _pack_moment(packing)
        text = manifest.as_text().encode()
        packing.add_text(form.MANIFEST, text)
        packing.add_text(form.SIGNATURE, form.signature(text).encode())
    return manifest


def _pack_moment(packing: Packing) -> Manifest:
    """Pack files and database; return what was packed."""
    # The copy lies where the database does: no place that is less private.
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR, prefix=".backing-up-") as scratch:
        copy = Path(scratch) / form.DATABASE
        made_at = timezone.now()
        contents, missing = _take(packing, copy)
        with copy.open("rb") as database:
            packing.add(form.DATABASE, database, copy.stat().st_size)
    return Manifest(
        form=form.FORM,
        made_at=made_at.isoformat(timespec="seconds"),
        version=settings.VERSION,
        engine=connection.vendor,
        migrations=contents.migrations,
        tables=contents.tables,
        members=dict(packing.members),
        missing=missing,
        unnamed=sorted(packing.paths - contents.files),
    )


def _take(packing: Packing, copy: Path) -> tuple[Contents, list[str]]:
    """Pack the files and take the moment they belong to; return what it holds and lacks."""
    lacking = packing.add_files(files_of(connection))
    moments = 0
    while True:
        moments += 1
        with moment_held() as moment:
            lacked, lacking = lacking, packing.add_files(moment.files())
            # What a row names still though it was missing a moment ago was lost before.
            if set(lacking) <= set(lacked) or moments == MOMENTS_MAX:
                moment.write(copy)
                return moment.contents(), lacking


def drop_oldest(folder: Path, keep: int) -> list[Path]:
    """Delete all backups of a folder but the newest `keep`; return what was deleted."""
    dropped = backups_in(folder)[:-keep]
    for path in dropped:
        path.unlink()
    return dropped


def backups_in(folder: Path) -> list[Path]:
    """Return the backups of a folder, the oldest first; their names tell when."""
    ours = folder.glob(f"{form.NAME_START}*")
    return sorted(path for path in ours if path.name.endswith(form.NAME_ENDS))


def _new_path(folder: Path, end: str) -> Path:
    if not folder.is_dir():
        raise UnfitBackup(f"{folder} is no folder.")
    moment = timezone.now().strftime("%Y%m%d-%H%M%S")
    path = folder / f"{form.NAME_START}{moment}{end}"
    if path.exists():
        raise UnfitBackup(f"{path} is there already.")
    return path


@contextmanager
def _private(path: Path) -> Iterator[IO[bytes]]:
    """Open a new file that its owner alone reads."""
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        yield file


def _sync_folder(folder: Path) -> None:
    # Some network file systems know no such thing.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        os.fsync(handle)
        os.close(handle)
