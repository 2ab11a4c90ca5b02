"""What a backup is: one tar with the database, the files its rows name, and a signed manifest.

    files/...            each file of the storage that a row names, by its path there
    database             the SQLite file, or what pg_dump wrote
    manifest.json        when, of which tables with how many rows, and each file's SHA-256
    manifest.signature   by the secret key: whoever has not got it can't edit a backup unseen

It is written in one go, so the manifest comes last.
"""

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Any

from django.core import signing

FORM = 1
DATABASE, MANIFEST, SIGNATURE = "database", "manifest.json", "manifest.signature"
FILES = "files/"
NAME_START, NAME_ENDS = "reeflog-", (".tar", ".tar.age")
CHUNK = 1 << 20
# A manifest names each photo in some 150 bytes; so many bytes are a few million photos.
MANIFEST_BYTES_MAX = 1 << 29


class UnfitBackup(Exception):
    """Says in one sentence why this can't be backed up, checked or restored."""


@dataclass(frozen=True)
class Member:
    """A file of a backup: its size and what it must add up to."""

    sha256: str
    bytes: int


@dataclass(frozen=True)
class Manifest:
    """What a backup says of itself; `tables` counts rows, `migrations` are those applied."""

    form: int
    made_at: str
    version: str
    engine: str
    migrations: list[str]
    tables: dict[str, int]
    members: dict[str, Member]
    # Files that rows named and the storage had not when it was made.
    missing: list[str]
    # Files whose rows were deleted while it was made.
    unnamed: list[str]

    def as_text(self) -> str:
        return json.dumps(asdict(self), indent=1, sort_keys=True)

    @property
    def rows(self) -> int:
        return sum(self.tables.values())

    def named_files(self) -> dict[str, Member]:
        """Return the files that its rows name, by their path in the storage."""
        files = {n.removeprefix(FILES): m for n, m in self.members.items() if n.startswith(FILES)}
        return {path: member for path, member in files.items() if path not in self.unnamed}


def read_manifest(text: bytes) -> Manifest:
    """Return the manifest of a backup, or raise UnfitBackup."""
    try:
        stated: dict[str, Any] = json.loads(text)
        if stated["form"] > FORM:
            raise UnfitBackup(newer(stated["version"]))
        stated["members"] = {name: Member(**m) for name, m in stated["members"].items()}
        return Manifest(**stated)
    except (ValueError, TypeError, KeyError, AttributeError) as problem:
        raise UnfitBackup("Its manifest is not one that reeflog wrote.") from problem


def newer(version: str) -> str:
    return f"It was made by a newer reeflog ({version}): update this one first, then restore."


def signature(text: bytes) -> str:
    """Return what the secret key says of a manifest."""
    return str(_signer().sign(hashlib.sha256(text).hexdigest()))


def is_signed(text: bytes, stated: str) -> bool:
    """Whether this site's key, or one it had before, signed a manifest."""
    try:
        return bool(_signer().unsign(stated) == hashlib.sha256(text).hexdigest())
    except signing.BadSignature:
        return False


def _signer() -> signing.Signer:
    return signing.Signer(salt="hosting.backup")
