"""Tells each keeper what is newly due, once a day at most; for a timer to run every hour or so."""

import logging
import smtplib

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apps.accounts.models import User
from apps.sharing.reminding.digest import send_digest

logger = logging.getLogger(__name__)


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
        reminded, refused, broken = 0, 0, 0
        for keeper in keepers.exclude(reminder_mail__kinds=[]).order_by("pk"):
            try:
                reminded += send_digest(keeper, site=site.rstrip("/"), now=timezone.now()) > 0
            except smtplib.SMTPRecipientsRefused:
                # That address stays wrong every hour: nothing for a host to be woken by.
                refused += 1
                self.stderr.write(f"keeper {keeper.pk}: the mail server refuses their address")
            except Exception:
                # What one keeper's tanks bring up keeps nobody else from their mail.
                broken += 1
                logger.exception("Keeper %s could not be reminded", keeper.pk)
        self.stdout.write(f"Keepers reminded: {reminded}. Addresses refused: {refused}.")
        if broken:
            raise CommandError(f"Keepers who could not be reminded: {broken}. The log says why.")
