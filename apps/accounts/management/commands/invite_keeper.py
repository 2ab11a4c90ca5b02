"""Let somebody sign up where sign-up is closed."""

import datetime as dt

from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from apps.accounts.models import SignUpInvitation

DAYS_MAX = 90


class Command(BaseCommand):
    help = "Print a path by which one person may sign up although sign-up is closed."

    def add_arguments(self, parser):
        parser.add_argument("--days", type=int, default=14, help="How long it works.")

    def handle(self, *args, days, **options):
        if not 1 <= days <= DAYS_MAX:
            raise CommandError(f"--days must be from 1 to {DAYS_MAX}.")
        token = SignUpInvitation.issue(timezone.now() + dt.timedelta(days=days))
        path = reverse("sign_up_invited", args=[token])
        self.stdout.write(f"Send them this path on your site; it works once: {path}")
