"""Photo files without a note, and notes without their photo file."""

import datetime as dt

from django.core.files.storage import default_storage
from django.core.management.base import BaseCommand
from django.utils import timezone

from apps.corals.models import Photo, SentPhoto
from apps.corals.photo_files import check_files

# An upload that is under way has its file before its row.
UNDER_WAY = dt.timedelta(hours=1)


class Command(BaseCommand):
    """check_photos [--remove]"""

    help = "List photo files that no note names, and photos whose file is missing."

    def add_arguments(self, parser):
        parser.add_argument("--remove", action="store_true", help="Delete files without a note.")

    def handle(self, *args, remove, **options):
        before = timezone.now() - UNDER_WAY
        photos = [*Photo.objects.all(), *SentPhoto.objects.filter(photo=None)]
        check = check_files(photos, default_storage, before=before)
        for path in check.orphans:
            self.stdout.write(f"no note names {path}")
            if remove:
                default_storage.delete(path)
        for path in check.missing:
            self.stdout.write(f"missing: {path}")
        done = "deleted" if remove else "found"
        self.stdout.write(
            f"{len(check.orphans)} files without a note {done}, {len(check.missing)} missing."
        )
