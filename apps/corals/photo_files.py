"""Photo files stand and fall with their rows.

A database takes back what failed, a disk does not. Each file is written down before it is
written; it is struck off the list when its row's transaction is committed. What is still on the
list when the request, or the job, is over, and waits for no commit, is deleted. A row that is
deleted takes its files along.

Writing takes a while, most of all into a bucket: what can is written before the transaction
begins (`write_file`), and stands with its row from `keep_files` on.
"""

import datetime as dt
import logging
from collections.abc import Iterable, Iterator
from contextvars import ContextVar
from dataclasses import dataclass

from django.core.files.base import ContentFile
from django.core.files.storage import Storage
from django.db import transaction
from django.db.models import Model
from django.db.models.fields.files import FieldFile

logger = logging.getLogger(__name__)

# Below the storage's root, see `photo_path` and `waiting_path`.
PHOTO_FOLDERS = ("notes", "waiting")


@dataclass(eq=False)
class WrittenFile:
    """A file whose row is not saved for good; called once it is."""

    storage: Storage
    path: str
    is_kept: bool = False

    def __call__(self) -> None:
        self.is_kept = True

    @property
    def is_waiting(self) -> bool:
        """Whether its transaction can still be committed."""
        waiting = transaction.get_connection().run_on_commit
        return any(call is self for _, call, *_ in waiting)


_written: ContextVar[tuple[WrittenFile, ...]] = ContextVar("written files", default=())


def write_file(field_file: FieldFile, name: str, content: bytes) -> None:
    """Write bytes as the file of a row's field; it goes again unless `keep_files` says it stays."""
    storage, row = field_file.storage, field_file.instance
    path = storage.get_available_name(field_file.field.generate_filename(row, name))
    written = WrittenFile(storage, path)
    _written.set((*_written.get(), written))
    written.path = storage.save(path, ContentFile(content))
    setattr(row, field_file.field.name, written.path)


def keep_files(*field_files: FieldFile) -> None:
    """Let files that were written stay, once the transaction that saves their row holds."""
    paths = {file.name for file in field_files}
    for written in _written.get():
        if written.path in paths:
            transaction.on_commit(written)


def store_file(field_file: FieldFile, name: str, content: bytes) -> None:
    """Write and keep a file, inside the transaction that saves its row."""
    write_file(field_file, name, content)
    keep_files(getattr(field_file.instance, field_file.field.name))


def take_back_files(**_signal: object) -> None:
    """Delete the files whose rows were not saved after all."""
    lost = [w for w in _written.get() if not w.is_kept and not w.is_waiting]
    _written.set(tuple(w for w in _written.get() if w.is_waiting))
    for written in lost:
        try:
            written.storage.delete(written.path)
        except OSError:
            logger.exception("A file whose row was not saved could not be deleted")


def delete_files_of(*, instance: Model, **_signal: object) -> None:
    """Delete a Photo's files once the transaction that deletes its row has ended well."""
    files = [instance.image, instance.thumbnail]

    def delete_files() -> None:
        for file in files:
            if file:
                file.storage.delete(file.name)

    transaction.on_commit(delete_files)


@dataclass(frozen=True)
class FileCheck:
    """Files without a row, and files that rows name and the storage has not."""

    orphans: tuple[str, ...]
    missing: tuple[str, ...]


def check_files(photos: Iterable[Model], storage: Storage, *, before: dt.datetime) -> FileCheck:
    """Compare photos, in notes and waiting, with their storage.

    A file younger than `before` may still get its row.
    """
    named = {file.name for photo in photos for file in (photo.image, photo.thumbnail)}
    kept = {path for folder in PHOTO_FOLDERS for path in stored_paths(storage, folder)}
    orphans = (p for p in kept - named if storage.get_modified_time(p) < before)
    return FileCheck(tuple(sorted(orphans)), tuple(sorted(named - kept)))


def stored_paths(storage: Storage, folder: str) -> Iterator[str]:
    """Yield the path of every file below a folder of a storage."""
    try:
        folders, files = storage.listdir(folder)
    except FileNotFoundError:
        return
    yield from (f"{folder}/{name}" for name in files)
    for inner in folders:
        yield from stored_paths(storage, f"{folder}/{inner}")
