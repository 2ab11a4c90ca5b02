"""Help a keeper who lost their password where no mail is sent."""

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import User
from apps.accounts.password_links import password_path
from apps.accounts.security_events import log_event


class Command(BaseCommand):
    help = "Print the path where a keeper chooses a new password, once, within three days."

    def add_arguments(self, parser):
        parser.add_argument("email")

    def handle(self, *args, email, **options):
        user = User.objects.filter(email__iexact=email, is_active=True).first()
        if user is None:
            raise CommandError("Nobody signs in with this e-mail.")
        log_event("reset link made by the host", user)
        self.stdout.write(f"Send them this path on your site: {password_path(user)}")
