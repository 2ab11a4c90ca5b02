"""The form of the zip: its names, its version and its bounds. docs/tank_zip.md tells it in full."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

# From so many bytes on, a zip that is at work goes from memory to the disk.
MEMORY_BYTES = 8_000_000
FORMAT = "reeflog-zip"
# Counts up when a column changes its meaning; a new column or table needs no new version.
VERSION = 1
TANK, OWN, ACCOUNT = "tank", "own", "account"
MANIFEST, READ_ME, DICTIONARY, PEOPLE = (
    "manifest.json",
    "read-me.txt",
    "dictionary.json",
    "people.json",
)
# Every file a zip may hold besides; nothing here leads out of the folder it is unpacked to.
MEMBER = re.compile(
    r"(rows/[a-z]{1,60}\.json|photos/[a-z]{1,60}-[0-9]{1,19}-[a-z_]{1,40}\.jpg"
    r"|(tanks/[0-9]{1,6}|own)\.zip|account\.json)"
)

# What an honest zip stays far below: three years of a tank with 2,000 changes have 20 MB of rows.
ROWS_BYTES_MAX = 256_000_000
PHOTO_BYTES_MAX = 30_000_000
ZIP_BYTES_MAX = 4_000_000_000
FILES_MAX = 100_000
ROWS_MAX = 1_000_000


class Unfit(StrEnum):
    """Why a zip can't be taken."""

    NOT_OURS = "not_ours"
    OLDER = "older"
    NEWER = "newer"
    DAMAGED = "damaged"
    REPACKED = "repacked"
    TOO_LARGE = "too_large"
    MISSING_FILE = "missing_file"
    STRAY_FILE = "stray_file"
    DOUBLE = "double"
    CHANGED = "changed"
    UNREADABLE = "unreadable"
    VALUE = "value"
    LOST_LINK = "lost_link"
    UNSOUND = "unsound"
    PHOTO = "photo"
    TANKS = "tanks"
    KIND = "kind"
    QUOTA = "quota"
    GONE = "gone"


class UnfitZip(ValueError):
    """A zip that can't be taken; the message is one sentence for the keeper."""

    def __init__(self, code: Unfit, sentence: str) -> None:
        self.code = code
        super().__init__(sentence)


@dataclass(frozen=True)
class Member:
    """One file of a zip as its manifest states it."""

    sha256: str
    size: int

    def stated(self) -> dict[str, object]:
        return {"sha256": self.sha256, "bytes": self.size}


@dataclass(frozen=True)
class Manifest:
    """What a zip says of itself."""

    kind: str
    made_at: str
    digest: str
    title: str = ""
    members: Mapping[str, Member] = field(default_factory=dict)
    lost_photos: int = 0

    def document(self) -> dict[str, Any]:
        return {
            "format": FORMAT,
            "version": VERSION,
            "kind": self.kind,
            "title": self.title,
            "made_at": self.made_at,
            "content_sha256": self.digest,
            "lost_photo_files": self.lost_photos,
            "files": {name: member.stated() for name, member in self.members.items()},
        }
