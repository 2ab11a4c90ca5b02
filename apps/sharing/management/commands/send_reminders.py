"""Tells each keeper what is newly due, once a day at most; for a timer to run every hour or so."""

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apps.later.queue import has_workers
from apps.sharing.reminding.rounds import remind_all, remind_soon


class Command(BaseCommand):
    help = (
        "Send the reminders that keepers chose, by mail and to browsers. "
        "Safe to run again: nothing is sent twice. With Celery, a worker does it."
    )

    def add_arguments(self, parser):
        parser.add_argument("--site", default=settings.SITE, help="address of this site, for links")

    def handle(self, *args, site, **options):
        if not site.startswith(("https://", "http://")):
            raise CommandError(
                "--site, or REEFLOG_SITE, must be an address, such as https://reef.example.org"
            )
        site = site.rstrip("/")
        if has_workers():
            remind_soon(site)
            self.stdout.write("Handed to the workers.")
            return
        done = remind_all(site)
        self.stdout.write(f"Keepers reminded: {done.reminded}. Addresses refused: {done.refused}.")
        if done.trouble:
            raise CommandError(done.trouble)
