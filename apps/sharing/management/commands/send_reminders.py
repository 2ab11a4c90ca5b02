"""Tells each keeper what is newly due, once a day at most; for a timer to run every hour or so."""

import smtplib

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apps.accounts.models import User
from apps.sharing.reminding.digest import send_digest


class Command(BaseCommand):
    help = (
        "Send the reminders that keepers chose, by mail and to browsers. "
        "Safe to run again: nothing is sent twice."
    )

    def add_arguments(self, parser):
        parser.add_argument("--site", default=settings.SITE, help="address of this site, for links")

    def handle(self, *args, site, **options):
        if not site.startswith(("https://", "http://")):
            raise CommandError(
                "--site, or REEFLOG_SITE, must be an address, such as https://reef.example.org"
            )
        keepers = User.objects.filter(is_active=True, reminder_mail__isnull=False)
        reminded, failed = 0, 0
        for keeper in keepers.exclude(reminder_mail__kinds=[]).order_by("pk"):
            try:
                reminded += send_digest(keeper, site=site.rstrip("/"), now=timezone.now()) > 0
            except (smtplib.SMTPException, OSError) as problem:
                # One address that is refused keeps nobody else from their mail.
                failed += 1
                self.stderr.write(f"keeper {keeper.pk}: {problem}")
        self.stdout.write(f"Keepers reminded: {reminded}. Mails refused: {failed}.")
