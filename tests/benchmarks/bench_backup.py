"""How long a backup of so many MB takes, and its check: photos of 1 MB, and rows that name them.

BACKUP_MB=1000 python -m tests.benchmarks.bench_backup
"""

import os
import time
from pathlib import Path

from tests.benchmarks.scratch import scratch_rows

MB = int(os.environ.get("BACKUP_MB", "100"))
PHOTO_BYTES = 1_000_000
NOTES_A_PHOTO = 50


def main():
    with scratch_rows() as folder:
        from django.test.utils import override_settings

        with override_settings(DATA_DIR=folder):
            fill(Path(folder) / "photos")
            measure(folder)


def fill(photos):
    """Write the photos, which can't be made smaller, and their rows."""
    from apps.corals.models import HealthNote, Photo
    from tests.factories import make_coral, make_note, make_tank

    coral = make_coral(make_tank())
    (photos / "notes").mkdir(parents=True)
    note = make_note(coral)
    names = [f"notes/{number}.jpg" for number in range(MB)]
    for name in names:
        (photos / name).write_bytes(os.urandom(PHOTO_BYTES))
    Photo.objects.bulk_create([Photo(note=note, image=name, thumbnail="") for name in names])
    words = {"noted_on": note.noted_on, "condition": note.condition, "text": "Looks well. " * 8}
    rows = (HealthNote(coral=coral, **words) for _ in range(MB * NOTES_A_PHOTO))
    HealthNote.objects.bulk_create(rows, batch_size=5000)


def measure(folder):
    from django.core.management import call_command

    backups, key = folder / "backups", folder / "key"
    backups.mkdir()
    took_s(call_command, "back_up", new_key=key)
    kinds = (("plain", {}, {}), ("locked", {"encrypt": key}, {"key": key}))
    for kind, lock, opened in kinds:
        made_s = took_s(call_command, "back_up", backups, **lock)
        (path,) = backups.glob("reeflog-*")
        checked_s = took_s(call_command, "restore", path, check=True, **opened)
        size_mb = path.stat().st_size / 1e6
        print(
            f"{kind}, {size_mb:.0f} MB: backed up in {made_s:.1f} s, checked in {checked_s:.1f} s"
        )
        path.unlink()


def took_s(act, *words, **more):
    began = time.perf_counter()
    act(*words, **more)
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
