"""Opening a zip that somebody sent: nothing of it is believed before it is checked."""

import hashlib
import json
import math
import re
import stat
import zipfile
import zlib
from collections.abc import Callable
from typing import IO, Any, NoReturn

from apps.common.texts import is_storable
from apps.transfer.archive import form
from apps.transfer.archive.form import Manifest, Member, Unfit, UnfitZip
from apps.transfer.archive.writing import content_digest

CHUNK = 1 << 20
# What JSON may hide a zero or half a character behind.
ODD_ESCAPE = re.compile(rb"\\u(0000|[dD][89a-fA-F])")


class OpenedZip:
    """A zip whose files are all what its manifest says; close it when done."""

    def __init__(self, file: IO[bytes], *, bytes_max: int = form.ZIP_BYTES_MAX) -> None:
        """Raises UnfitZip with one sentence."""
        self._archive = _opened(file)
        try:
            _refuse_odd_entries(self._archive, bytes_max)
            self.manifest = self._read_manifest()
            self._refuse_changed()
        except UnfitZip:
            self._archive.close()
            raise

    def __enter__(self) -> "OpenedZip":
        return self

    def __exit__(self, *_error: object) -> None:
        self._archive.close()

    def names(self) -> set[str]:
        return set(self.manifest.members)

    def json(self, name: str) -> Any:
        """Return a file of it as decoded JSON, or raise UnfitZip."""
        return decoded(self.bytes(name, form.ROWS_BYTES_MAX), name)

    def bytes(self, name: str, most: int) -> bytes:
        if name not in self.manifest.members:
            raise UnfitZip(Unfit.MISSING_FILE, f"“{name}” is missing from this zip.")
        if self.manifest.members[name].size > most:
            raise UnfitZip(Unfit.TOO_LARGE, f"“{name}” is larger than such a file ever is.")
        return _read(self._archive, name, most)

    def copy_to(self, name: str, out: IO[bytes]) -> None:
        """Write a file of it to another file."""
        _each_chunk(self._archive, name, form.ZIP_BYTES_MAX, out.write)

    def _read_manifest(self) -> Manifest:
        names = self._archive.namelist()
        if form.MANIFEST not in names:
            raise too_old() if "rows/tank.json" in names else no_zip()
        text = _read(self._archive, form.MANIFEST, form.ROWS_BYTES_MAX)
        return _manifest(decoded(text, form.MANIFEST))

    def _refuse_changed(self) -> None:
        stated = self.manifest.members
        held = set(self._archive.namelist()) - {form.MANIFEST}
        if odd := sorted(held ^ stated.keys()):
            if odd[0] in stated:
                raise UnfitZip(Unfit.MISSING_FILE, f"“{odd[0]}” is missing from this zip.")
            raise stray(odd[0])
        for name, member in stated.items():
            digest = hashlib.sha256()
            size = _each_chunk(self._archive, name, member.size, digest.update)
            if (digest.hexdigest(), size) != (member.sha256, member.size):
                raise UnfitZip(Unfit.CHANGED, f"“{name}” was changed after this zip was made.")
        if content_digest(dict(stated)) != self.manifest.digest:
            raise UnfitZip(Unfit.CHANGED, "The list of files was changed after this zip was made.")


def no_zip() -> UnfitZip:
    return UnfitZip(Unfit.NOT_OURS, "This is not a zip file that reeflog made.")


def cut_short() -> UnfitZip:
    words = "This zip is cut short or damaged: download or copy it again."
    return UnfitZip(Unfit.DAMAGED, words)


def too_old() -> UnfitZip:
    words = "This zip was made before zips could be imported: make a new one there."
    return UnfitZip(Unfit.OLDER, words)


def stray(name: str) -> UnfitZip:
    return UnfitZip(Unfit.STRAY_FILE, f"“{name}” does not belong in this zip.")


def _opened(file: IO[bytes]) -> zipfile.ZipFile:
    file.seek(0)
    start = file.read(4)
    file.seek(0)
    try:
        return zipfile.ZipFile(file)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError):
        # A zip's list of files stands at its end.
        raise (cut_short() if start == b"PK\x03\x04" else no_zip()) from None


def _refuse_odd_entries(archive: zipfile.ZipFile, bytes_max: int) -> None:
    """Refuse what leads elsewhere, doubled or locked files, and what unpacks to too much."""
    entries = archive.infolist()
    if len(entries) > form.FILES_MAX:
        raise UnfitZip(Unfit.TOO_LARGE, f"This zip holds more than {form.FILES_MAX:,} files.")
    plain = {form.MANIFEST, form.READ_ME, form.DICTIONARY, form.PEOPLE}
    names = set()
    for entry in entries:
        if entry.filename not in plain and not form.MEMBER.fullmatch(entry.filename):
            shown = entry.filename[:80] if entry.filename.isprintable() else "A file"
            # A zip of something else is no zip of ours with a stowaway.
            known = form.MANIFEST in archive.namelist()
            raise stray(shown) if known else no_zip()
        if entry.filename in names:
            raise UnfitZip(Unfit.DOUBLE, f"“{entry.filename}” is in this zip twice.")
        if stat.S_ISLNK(entry.external_attr >> 16):
            # Nothing here would follow it, but whoever unpacks the zip elsewhere might.
            raise stray(entry.filename)
        if entry.flag_bits & 1 or entry.compress_type not in (
            zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED
        ):  # fmt: skip
            raise UnfitZip(
                Unfit.REPACKED, "This zip was packed anew in another way: send it as it was made."
            )
        names.add(entry.filename)
    unpacked = sum(entry.file_size for entry in entries)
    rows = sum(entry.file_size for entry in entries if entry.filename.startswith("rows/"))
    if unpacked > bytes_max or rows > form.ROWS_BYTES_MAX:
        raise UnfitZip(Unfit.TOO_LARGE, "This zip unpacks to more than a tank ever holds.")


def _each_chunk(
    archive: zipfile.ZipFile, name: str, most: int, take: Callable[[bytes], object]
) -> int:
    """Hand on a file chunk by chunk; returns its size, or raises UnfitZip beyond `most`."""
    size = 0
    try:
        with archive.open(name) as file:
            while chunk := file.read(CHUNK):
                size += len(chunk)
                if size > most:
                    raise UnfitZip(Unfit.CHANGED, f"“{name}” was changed after this zip was made.")
                take(chunk)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError):
        raise cut_short() from None
    return size


def _read(archive: zipfile.ZipFile, name: str, most: int) -> bytes:
    chunks: list[bytes] = []
    _each_chunk(archive, name, most, chunks.append)
    return b"".join(chunks)


def decoded(text: bytes, name: str) -> Any:
    """Return JSON without numbers or texts that no row can hold, or raise UnfitZip."""
    try:
        value = json.loads(text.decode(), parse_constant=_refuse_number, parse_float=_number)
    except (ValueError, RecursionError):
        raise UnfitZip(
            Unfit.UNREADABLE, f"“{name}” can’t be read: it was changed by hand."
        ) from None
    # A zip of ours escapes nothing beyond ASCII, so that most need no second look.
    if ODD_ESCAPE.search(text) and not is_storable(value):
        raise UnfitZip(Unfit.UNREADABLE, f"“{name}” holds characters that no text has.")
    return value


def _refuse_number(name: str) -> NoReturn:
    raise ValueError(name)


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def _manifest(value: Any) -> Manifest:
    """Return the Manifest that decoded JSON states, or raise UnfitZip."""
    if not isinstance(value, dict) or value.get("format") != form.FORMAT:
        raise no_zip()
    version = value.get("version")
    if not isinstance(version, int) or version < 1:
        raise no_zip()
    if version > form.VERSION:
        raise UnfitZip(
            Unfit.NEWER,
            f"This zip was made by a newer reeflog: its form is version {version}, and this "
            f"installation reads up to {form.VERSION}. Update it first.",
        )
    try:
        return Manifest(
            kind=str(value["kind"]),
            made_at=str(value["made_at"])[:40],
            digest=str(value["content_sha256"]),
            title=str(value["title"])[:80],
            members={
                str(name): Member(str(one["sha256"]), int(one["bytes"]))
                for name, one in value["files"].items()
            },
            lost_photos=int(value["lost_photo_files"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        raise UnfitZip(
            Unfit.UNREADABLE, "The manifest of this zip can’t be read: it was changed by hand."
        ) from None
