"""Makes the key by which push services know this site."""

from django.core.management.base import BaseCommand

from apps.common.push.keys import make_key, public_text, read_key


class Command(BaseCommand):
    help = "Print a new REEFLOG_PUSH_KEY for browser reminders."

    def handle(self, *args, **options):
        key = make_key()
        self.stdout.write(f"REEFLOG_PUSH_KEY={key}")
        self.stdout.write(f"# Its public half, which browsers get: {public_text(read_key(key))}")
