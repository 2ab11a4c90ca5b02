"""Opening a backup: it is unpacked beside the data, and nothing of it is believed unchecked."""

import errno
import hashlib
import shutil
import sqlite3
import tarfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader
from pyrage.x25519 import Identity

from apps.hosting.backup import form
from apps.hosting.backup.form import Manifest, Member, UnfitBackup, is_signed, read_manifest
from apps.hosting.backup.moment import (
    contents_of,
    lasting,
    opened,
    refuse_unsound,
    run_postgres,
)
from apps.hosting.backup.sealing import AGE_START, unlocked

NO_ROOM = "There is no room on this disk to unpack it."
DAMAGED = "It is cut short or damaged."
EDITED = (
    "It was edited, or made with another secret key: if you are sure that it is yours, add --trust."
)


@dataclass(frozen=True)
class Unpacked:
    """A backup whose parts lie in a folder, each as its manifest says."""

    folder: Path
    manifest: Manifest

    @property
    def files(self) -> dict[str, Member]:
        """What the rows of its database name, by path in the storage."""
        return self.manifest.named_files()

    @property
    def database(self) -> Path:
        return self.folder / form.DATABASE

    def file(self, path: str) -> Path:
        return self.folder / form.FILES / path


def unpack(path: Path, folder: Path, identity: Identity | None, *, trust: bool) -> Unpacked:
    """Unpack a backup into an empty folder and check all of it, or raise UnfitBackup."""
    if not path.is_file():
        raise UnfitBackup(f"{path} is no file.")
    if shutil.disk_usage(folder).free < path.stat().st_size:
        raise UnfitBackup(NO_ROOM)
    try:
        with _plain(path, identity) as file:
            members = dict(_extract(file, folder))
    except (tarfile.TarError, EOFError, OSError) as problem:
        is_full = getattr(problem, "errno", None) == errno.ENOSPC
        raise UnfitBackup(NO_ROOM if is_full else DAMAGED) from problem
    manifest = _checked_manifest(folder, members, trust)
    _refuse_foreign(manifest)
    unpacked = Unpacked(folder, manifest)
    _refuse_changed_database(unpacked)
    return unpacked


@contextmanager
def _plain(path: Path, identity: Identity | None) -> Iterator[IO[bytes]]:
    with path.open("rb") as file:
        is_locked = file.read(len(AGE_START)) == AGE_START
        file.seek(0)
        if not is_locked:
            yield file
        elif identity is None:
            raise UnfitBackup("It is locked: name its key file by --key.")
        else:
            with unlocked(file, identity) as reader:
                yield reader


def _extract(file: IO[bytes], folder: Path) -> Iterator[tuple[str, Member]]:
    """Write each member below a folder; yield its name and what it adds up to."""
    with tarfile.open(fileobj=file, mode="r|") as tar:
        for info in tar:
            target = folder / _safe_name(info)
            target.parent.mkdir(parents=True, exist_ok=True)
            content = tar.extractfile(info)
            if content is None:
                raise UnfitBackup(DAMAGED)
            with content, target.open("xb") as out:
                total = hashlib.sha256()
                while part := content.read(form.CHUNK):
                    total.update(part)
                    out.write(part)
            yield info.name, Member(total.hexdigest(), info.size)


def _safe_name(info: tarfile.TarInfo) -> str:
    """Return the name of a member that may lie in a backup, or raise UnfitBackup."""
    parts = info.name.split("/")
    is_ours = info.name in (form.DATABASE, form.MANIFEST, form.SIGNATURE)
    is_file = info.name.startswith(form.FILES) and not {"", ".", ".."} & set(parts)
    if not info.isreg() or not (is_ours or is_file):
        raise UnfitBackup("It holds something that no backup of reeflog holds.")
    return info.name


def _checked_manifest(folder: Path, members: dict[str, Member], trust: bool) -> Manifest:
    if {form.DATABASE, form.MANIFEST, form.SIGNATURE} - members.keys():
        raise UnfitBackup(DAMAGED)
    if members[form.MANIFEST].bytes > form.MANIFEST_BYTES_MAX:
        raise UnfitBackup(DAMAGED)
    text = (folder / form.MANIFEST).read_bytes()
    stated = (folder / form.SIGNATURE).read_bytes()[:400].decode(errors="replace")
    if not trust and not is_signed(text, stated):
        raise UnfitBackup(EDITED)
    manifest = read_manifest(text)
    held = {name: m for name, m in members.items() if name not in (form.MANIFEST, form.SIGNATURE)}
    if held != manifest.members:
        raise UnfitBackup("Its files are not those that were packed: it is damaged or was edited.")
    return manifest


def _refuse_foreign(manifest: Manifest) -> None:
    if manifest.engine != connection.vendor:
        raise UnfitBackup(
            f"It holds a {manifest.engine} database and this site has {connection.vendor}: "
            "restore it with a DATABASE_URL of its kind."
        )
    known = {".".join(key) for key in MigrationLoader(None).disk_migrations}
    if set(manifest.migrations) - known:
        raise UnfitBackup(form.newer(manifest.version))


def _refuse_changed_database(unpacked: Unpacked) -> None:
    """Read the database without touching the app's, or raise UnfitBackup."""
    manifest = unpacked.manifest
    if manifest.engine != "sqlite":
        # The rest shows when it is loaded, which happens in one transaction.
        run_postgres("pg_restore", "--list", str(unpacked.database), with_database=False)
        return
    try:
        with closing(sqlite3.connect(unpacked.database)) as database:
            refuse_unsound(database)
        with opened(unpacked.database) as copy:
            contents = contents_of(copy)
    except (sqlite3.DatabaseError, DatabaseError) as problem:
        raise UnfitBackup("SQLite can't read its database.") from problem
    # A backup of before may hold files of jobs.
    named = lasting([*unpacked.files, *manifest.missing])
    if contents.tables != manifest.tables or contents.files != named:
        raise UnfitBackup("Its database does not hold the rows that its manifest counts.")
