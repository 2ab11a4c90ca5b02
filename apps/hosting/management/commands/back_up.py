"""Back up database and photos while the app goes on."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from apps.hosting.backup.form import UnfitBackup
from apps.hosting.backup.last import note_backup
from apps.hosting.backup.sealing import make_key, read_recipient
from apps.hosting.backup.writing import back_up, drop_oldest


class Command(BaseCommand):
    """back_up FOLDER [--encrypt KEYFILE] [--keep N], or back_up --new-key KEYFILE"""

    help = "Write one moment of database and photos into a folder, checksummed and signed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, nargs="?")
        parser.add_argument("--encrypt", type=Path, metavar="KEYFILE", help="Lock it by this key.")
        parser.add_argument("--keep", type=int, help="Then delete all but the newest so many.")
        parser.add_argument("--new-key", type=Path, metavar="KEYFILE", help="Only make a key file.")

    def handle(self, *args: Any, **options: Any) -> None:
        folder, keep = options["folder"], options["keep"]
        try:
            if options["new_key"]:
                public = make_key(options["new_key"])
                self.stdout.write(f"Made. Its public part, which locks and can't open: {public}")
                return
            if folder is None:
                raise CommandError("Name the folder that backups go to.")
            if keep is not None and keep < 1:
                raise CommandError("--keep must be 1 or more.")
            recipient = read_recipient(options["encrypt"]) if options["encrypt"] else None
            path, manifest = back_up(folder, recipient)
            note_backup(path)
        except UnfitBackup as problem:
            raise CommandError(f"No backup was made. {problem}") from None
        files = len(manifest.named_files())
        self.stdout.write(f"Backed up {manifest.rows} rows and {files} files: {path}")
        if manifest.missing:
            self.stdout.write(
                f"{len(manifest.missing)} files that rows name are missing on this site: "
                "see check_photos."
            )
        for old in drop_oldest(folder, keep) if keep else ():
            self.stdout.write(f"Deleted {old.name}")
