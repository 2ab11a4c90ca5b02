"""When the last backup was made, for who may not look into the folder of backups."""

import datetime as dt
import json
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.utils import timezone

FILE = "last-backup.json"


@dataclass(frozen=True)
class LastBackup:
    """The newest backup that a command of this site made; `size` in bytes."""

    name: str
    made_at: dt.datetime
    size: int


def note_backup(path: Path) -> None:
    """Put down that a backup was made just now, beside the database."""
    words = {"name": path.name, "made_at": timezone.now().isoformat(), "size": path.stat().st_size}
    target = settings.DATA_DIR / FILE
    # As a whole or not at all, whoever reads it meanwhile.
    partial = target.with_suffix(".partial")
    partial.write_text(json.dumps(words))
    partial.replace(target)


def last_backup() -> LastBackup | None:
    """Return the last backup; None where none was put down."""
    try:
        words = json.loads((settings.DATA_DIR / FILE).read_text())
        made_at = dt.datetime.fromisoformat(words["made_at"])
        return LastBackup(str(words["name"]), made_at, int(words["size"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
