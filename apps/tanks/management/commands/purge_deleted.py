"""Delete for good what keepers deleted some time ago."""

import datetime as dt

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apps.tanks.deleted import DELETED_KEPT_DAYS, PURGES, purge_deleted


class Command(BaseCommand):
    """purge_deleted [--days 30]"""

    help = (
        f"Deletes for good, with photo files, what was deleted more than {DELETED_KEPT_DAYS} days "
        "ago. Keepers can restore it until then. Accounts whose week is over go too."
    )

    def add_arguments(self, parser):
        parser.add_argument("--days", type=int, default=DELETED_KEPT_DAYS)

    def handle(self, *args, days, **options):
        if not 0 <= days <= 36_500:
            raise CommandError("--days is a number from 0 to 36500.")
        count = purge_deleted(before=timezone.now() - dt.timedelta(days=days))
        self.stdout.write(f"Deleted for good: {count} row{'' if count == 1 else 's'}.")
        for line in PURGES.collect(timezone.now()):
            self.stdout.write(line)
