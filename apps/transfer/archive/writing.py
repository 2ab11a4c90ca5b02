"""Writing the zip of a tank, of what is a keeper's own, or of a whole account."""

import datetime as dt
import hashlib
import json
import time
import zipfile
from collections.abc import Iterator
from typing import IO, Any

from django.db.models import Field, FileField, Model
from django.utils import timezone

from apps.accounts.models import User
from apps.corals.models import HealthNote
from apps.later.progress import Progress, unheard
from apps.tanks.models import Tank
from apps.transfer.archive import form
from apps.transfer.archive.contents import Contents, own_contents, tank_contents
from apps.transfer.archive.dictionary import dictionary
from apps.transfer.archive.form import Manifest, Member
from apps.transfer.archive.people import OWNER, PeopleOut
from apps.transfer.archive.tables import file_fields, links, row_fields, table_name

GUIDE = """A backup of reeflog; docs/tank_zip.md of the program tells its form in full.

rows/ holds one JSON file a table: a list of rows with their number (pk) and fields. Lengths are in
cm, moments in UTC. dictionary.json says what each column means, its unit and its values. photos/
holds the photos that rows name. people.json says who the numbers in created_by and the like are, by
the name they show to others. manifest.json holds the version and a checksum of every file.

To bring it back: Tanks, "Import a tank", or `manage.py import_tank THIS.zip --keeper EMAIL`.
"""
ACCOUNT_GUIDE = """All of one account of reeflog.

tanks/ holds a backup of each of its own tanks, own.zip its fixtures, meters, and plans without a
tank, account.json its settings. Each zip within can be brought in by itself. Tanks of others that
the keeper helps with stay with those others.
"""
CHUNK = 1 << 20
# What a note by another keeper says of whose eyes they were, where it says nothing itself.
SEEN_BY = (HealthNote, "created_by", "noted_by")
SETTINGS = ("display_name", "units", "theme", "currency", "time_zone")


class ZipWriter:
    """A zip that is being written, file by file, each with its checksum."""

    def __init__(self, out: IO[bytes]) -> None:
        self._archive = zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED)
        self._members: dict[str, Member] = {}

    def add(self, name: str, chunks: Iterator[bytes], *, packed: bool = False) -> None:
        """Add a file; `packed` for what a second packing makes no smaller."""
        info = zipfile.ZipInfo(name, time.gmtime()[:6])
        info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
        info.external_attr = 0o644 << 16
        digest, size = hashlib.sha256(), 0
        with self._archive.open(info, "w", force_zip64=True) as file:
            for chunk in chunks:
                digest.update(chunk)
                size += len(chunk)
                file.write(chunk)
        self._members[name] = Member(digest.hexdigest(), size)

    def add_json(self, name: str, value: object) -> None:
        self.add(name, iter([json.dumps(value, indent=1, ensure_ascii=False).encode()]))

    def close(self, *, kind: str, title: str, lost_photos: int = 0) -> None:
        """Write the manifest, which ends the zip."""
        manifest = Manifest(
            kind=kind,
            made_at=timezone.now().isoformat(timespec="seconds"),
            digest=content_digest(self._members),
            title=title,
            members=self._members,
            lost_photos=lost_photos,
        )
        self._archive.writestr(form.MANIFEST, json.dumps(manifest.document(), indent=1))
        self._archive.close()


def content_digest(members: dict[str, Member]) -> str:
    """Return a digest of all rows and photos: the same for the same content."""
    lines = (f"{name} {members[name].sha256}" for name in sorted(members) if "/" in name)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def write_tank(tank: Tank, out: IO[bytes], progress: Progress = unheard) -> tuple[int, int, int]:
    """Write the zip of a tank to a file open for writing; returns (rows, photo files, lost).

    `progress` hears how many of its rows, then of its photos, are in.
    """
    people, contents = PeopleOut(tank.owner, tank), tank_contents(tank)
    return _write_rows(out, contents, people, progress, kind=form.TANK, title=tank.name)


def write_own(keeper: User, out: IO[bytes]) -> tuple[int, int, int]:
    """Write the zip of what is a keeper's own and lies in no tank."""
    people = PeopleOut(keeper)
    return _write_rows(out, own_contents(keeper), people, unheard, kind=form.OWN, title="")


def write_account(
    keeper: User, out: IO[bytes], scratch: IO[bytes], progress: Progress = unheard
) -> list[int]:
    """Write the zip of a whole account, its deleted tanks too; returns the keys of its tanks.

    `scratch` is an empty file that holds one zip after the other meanwhile; `progress` hears how
    many of how many tanks are done.
    """
    writer = ZipWriter(out)
    writer.add(form.READ_ME, iter([ACCOUNT_GUIDE.encode()]))
    writer.add_json("account.json", {name: getattr(keeper, name) for name in SETTINGS})
    write_own(keeper, scratch)
    writer.add("own.zip", _emptied(scratch), packed=True)
    tanks = list(Tank._base_manager.filter(owner=keeper).order_by("pk"))
    for number, tank in enumerate(tanks, start=1):
        write_tank(tank, scratch)
        writer.add(f"tanks/{number}.zip", _emptied(scratch), packed=True)
        progress(number, len(tanks), "tanks")
    writer.close(kind=form.ACCOUNT, title=keeper.display_name)
    return [tank.pk for tank in tanks]


def _emptied(scratch: IO[bytes]) -> Iterator[bytes]:
    """Yield what a file holds, from its start, and leave it empty."""
    scratch.seek(0)
    while chunk := scratch.read(CHUNK):
        yield chunk
    scratch.seek(0)
    scratch.truncate()


def _write_rows(
    out: IO[bytes],
    contents: Contents,
    people: PeopleOut,
    progress: Progress,
    *,
    kind: str,
    title: str,
) -> tuple[int, int, int]:
    writer = ZipWriter(out)
    writer.add(form.READ_ME, iter([GUIDE.encode()]))
    writer.add_json(form.DICTIONARY, dictionary(contents))
    written: dict[type[Model], set[object]] = {}
    photos: list[tuple[str, Any]] = []
    of, before = sum(rows.count() for rows in contents.values()), 0
    for model, rows in contents.items():
        keys = written[model] = set()
        lines = _row_lines(rows.order_by("pk"), written, keys, people, photos)
        lines = _heard(lines, progress, before, of)
        writer.add(f"rows/{table_name(model)}.json", lines)
        before += len(keys)
    writer.add_json(form.PEOPLE, people.document())
    lost = 0
    for done, (name, file) in enumerate(photos):
        progress(done, len(photos), "photos")
        lost += not _add_photo(writer, name, file)
    writer.close(kind=kind, title=title, lost_photos=lost)
    return sum(map(len, written.values())), len(photos) - lost, lost


def _heard(lines: Iterator[bytes], progress: Progress, before: int, of: int) -> Iterator[bytes]:
    """Yield the lines of a table, saying how many of all rows are in."""
    for done, line in enumerate(lines, start=before):
        progress(min(done, of), of, "rows")
        yield line


def _row_lines(
    rows: Any,
    written: dict[type[Model], set[object]],
    keys: set[object],
    people: PeopleOut,
    photos: list[tuple[str, Any]],
) -> Iterator[bytes]:
    """Yield a table as JSON, a row a line; notes down its keys and its files."""
    yield b"["
    for row in rows.iterator(chunk_size=500):
        if _is_orphan(row, written):
            continue
        files = [f for f in file_fields(type(row)) if getattr(row, f.name)]
        photos += [(photo_name(row, f), getattr(row, f.name)) for f in files]
        stated = {"pk": row.pk, "fields": row_document(row, people, written)}
        before = b",\n" if keys else b"\n"
        keys.add(row.pk)
        yield before + json.dumps(stated, ensure_ascii=False, allow_nan=False).encode()
    yield b"\n]\n"


def _is_orphan(row: Model, written: dict[type[Model], set[object]]) -> bool:
    """Tell of a row entered while the zip is being written, on another that came too late."""
    return any(
        not field.null and getattr(row, field.attname) not in written[field.related_model]
        for field in links(type(row))
        if field.related_model in written and field.related_model is not type(row)
    )


def row_document(
    row: Model, people: PeopleOut, written: dict[type[Model], set[object]]
) -> dict[str, object]:
    """Return a row's columns as plain values for JSON."""
    numbers = people.of_row(row)
    result = {}
    for field in row_fields(type(row)):
        if field.name in numbers:
            result[field.name] = numbers[field.name]
        else:
            result[field.name] = _plain(row, field, written)
    model, who, name = SEEN_BY
    if type(row) is model and not result[name] and numbers[who] not in (None, OWNER):
        result[name] = people.name_of(numbers[who])
    return result


def _plain(row: Model, field: Field, written: dict[type[Model], set[object]]) -> object:
    value = field.value_from_object(row)
    if isinstance(field, FileField):
        return photo_name(row, field) if value else ""
    if field.is_relation and field.related_model is not type(row):
        # What is not in the zip is not pointed to: it would mean another row elsewhere.
        return value if value in written.get(field.related_model, ()) else None
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    return value if isinstance(value, bool | int | float | list | dict | None) else str(value)


def photo_name(row: Model, field: Field) -> str:
    """Return the name in the zip of the file of a row."""
    return f"photos/{table_name(type(row))}-{row.pk}-{field.name}.jpg"


def _add_photo(writer: ZipWriter, name: str, file: Any) -> bool:
    """Add a photo; tells whether the store still has it."""
    try:
        with file.open("rb") as kept:
            writer.add(name, iter([kept.read()]), packed=True)
    except FileNotFoundError:
        return False
    return True
