"""Restore a backup: all of it is checked before anything is replaced, and proved afterwards."""

import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from apps.hosting.backup.form import UnfitBackup
from apps.hosting.backup.opening import Unpacked, unpack
from apps.hosting.backup.restoring import prove, restore
from apps.hosting.backup.sealing import read_identity
from apps.tanks.kept_pages.journal import begin_epoch


class Command(BaseCommand):
    """restore BACKUP [--key KEYFILE] [--check] [--trust]"""

    help = "Check a backup, put it in place of database and photos, and prove that it is there."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("backup", type=Path)
        parser.add_argument("--key", type=Path, metavar="KEYFILE", help="The key that opens it.")
        parser.add_argument("--check", action="store_true", help="Only check it; change nothing.")
        parser.add_argument(
            "--trust", action="store_true", help="Accept one signed with another secret key."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        backup, folder = options["backup"], Path(settings.DATA_DIR)
        folder.mkdir(parents=True, exist_ok=True)
        # Unpacked on the disk of the data, so that it is moved into place at once.
        with tempfile.TemporaryDirectory(dir=folder, prefix=".restoring-") as scratch:
            try:
                identity = read_identity(options["key"]) if options["key"] else None
                unpacked = unpack(backup, Path(scratch), identity, trust=options["trust"])
                if options["check"]:
                    self.stdout.write(f"Whole and ours: {held(unpacked)}")
                    return
                aside = restore(unpacked, folder)
            except UnfitBackup as problem:
                raise CommandError(f"Nothing was changed. {problem}") from None
            try:
                prove(unpacked)
            except UnfitBackup as problem:
                raise CommandError(f"{problem} What was there before is in {aside}.") from None
        begin_epoch()
        self.stdout.write(f"Restored and proved: {held(unpacked)}")
        if aside.exists():
            self.stdout.write(f"What was there before is in {aside}; delete it when all is well.")
        self.stdout.write("Now run: manage.py migrate")


def held(unpacked: Unpacked) -> str:
    manifest = unpacked.manifest
    return (
        f"{manifest.rows} rows in {len(manifest.tables)} tables and {len(unpacked.files)} files, "
        f"as of {manifest.made_at}."
    )
