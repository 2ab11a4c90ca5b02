"""Putting a backup in the place of what is there, and proving that it is in place.

What was there before is moved aside, not deleted, and moved back when anything goes wrong.
"""

import hashlib
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from django.core.files.base import File
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import connection
from django.utils import timezone

from apps.hosting.backup import form
from apps.hosting.backup.form import Member, UnfitBackup
from apps.hosting.backup.moment import contents_of, run_postgres
from apps.hosting.backup.opening import Unpacked
from apps.tanks.kept_pages.triggers import trigger_functions

RUNNING = "The app has its database open: stop it, then restore."


@dataclass
class Moves:
    """Files and folders moved so far, each of which can be moved back."""

    done: list[tuple[Path, Path]] = field(default_factory=list)

    def move(self, source: Path, target: Path) -> None:
        if source.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.move(source, target)
            self.done.append((source, target))

    def take_back(self) -> None:
        for source, target in reversed(self.done):
            shutil.move(target, source)


@contextmanager
def all_or_nothing() -> Iterator[Moves]:
    moves = Moves()
    try:
        yield moves
    except BaseException:
        moves.take_back()
        raise


def restore(unpacked: Unpacked, data_folder: Path) -> Path:
    """Replace database and files by those of a backup; return where the former ones lie now."""
    aside = data_folder / f"before-restore-{timezone.now():%Y%m%d-%H%M%S}"
    with all_or_nothing() as moves:
        if connection.vendor == "sqlite":
            _refuse_while_open()
        _place_files(unpacked, aside, moves)
        if connection.vendor == "sqlite":
            database = Path(connection.settings_dict["NAME"])
            connection.close()
            moves.move(database, aside / database.name)
            moves.move(unpacked.database, database)
        else:
            _load_postgres(unpacked)
    return aside


def _refuse_while_open() -> None:
    """Make the database one file without a log beside it, which works for its only user alone."""
    path = Path(connection.settings_dict["NAME"])
    connection.close()
    if not path.exists():
        return
    try:
        with closing(sqlite3.connect(path, timeout=1)) as database:
            database.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as problem:
        raise UnfitBackup(RUNNING) from problem
    except sqlite3.DatabaseError:
        # Broken beyond reading: that may be why this backup is wanted.
        return


def _place_files(unpacked: Unpacked, aside: Path, moves: Moves) -> None:
    unnamed = (unpacked.file(path) for path in unpacked.manifest.unnamed)
    for path in unnamed:
        path.unlink()
    if isinstance(default_storage, FileSystemStorage):
        folder = Path(default_storage.location)
        moves.move(folder, aside / folder.name)
        moves.move(unpacked.folder / form.FILES, folder)
    else:
        _fill_bucket(unpacked)


def _fill_bucket(unpacked: Unpacked) -> None:
    """Put back what a bucket has not; a file never changes, so what is there is left."""
    for path, member in unpacked.files.items():
        if _sum_of(path) == member.sha256:
            continue
        default_storage.delete(path)
        with unpacked.file(path).open("rb") as file:
            default_storage.save(path, File(file))


def _load_postgres(unpacked: Unpacked) -> None:
    """Drop all that is ours and load what the backup holds, in one transaction."""
    script = unpacked.folder / "load.sql"
    run_postgres(
        "pg_restore", "--no-owner", "--no-privileges", f"--file={script}",
        str(unpacked.database), with_database=False,
    )  # fmt: skip
    with connection.cursor() as cursor:
        names = connection.introspection.table_names(cursor)
        functions = trigger_functions(cursor)
    connection.close()
    clearing, counting = unpacked.folder / "clear.sql", unpacked.folder / "count.sql"
    dropped = [f"DROP TABLE IF EXISTS {_quoted(name)} CASCADE;\n" for name in names]
    # A table takes its triggers along, not what they call.
    dropped += [f"DROP FUNCTION {name} CASCADE;\n" for name in functions]
    clearing.write_text("".join(dropped))
    counting.write_text("".join(_counted(*one) for one in unpacked.manifest.tables.items()))
    run_postgres(
        "psql", "--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1",
        f"--file={clearing}", f"--file={script}", f"--file={counting}",
    )  # fmt: skip


def _quoted(name: str) -> str:
    return str(connection.ops.quote_name(name))


def _counted(table: str, rows: int) -> str:
    """Return what ends the transaction unless a table holds so many rows."""
    return (
        f"DO $count$ BEGIN IF (SELECT COUNT(*) FROM public.{_quoted(table)}) <> {int(rows)} "
        "THEN RAISE EXCEPTION 'it does not hold the rows that its manifest counts'; "
        "END IF; END $count$;\n"
    )


def prove(unpacked: Unpacked) -> None:
    """Raise UnfitBackup unless what is in place now is what the backup held."""
    contents = contents_of(connection)
    stated = unpacked.manifest
    if (contents.tables, contents.migrations) != (stated.tables, stated.migrations):
        raise UnfitBackup("The restored database does not hold what the backup counted.")
    if wrong := [path for path, member in unpacked.files.items() if not is_in_place(path, member)]:
        raise UnfitBackup(f"{len(wrong)} files are not in place, the first {wrong[0]}.")


def is_in_place(path: str, member: Member) -> bool:
    return _sum_of(path) == member.sha256


def _sum_of(path: str) -> str | None:
    """Return the SHA-256 of a stored file; None where there is none."""
    try:
        with default_storage.open(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        return None
