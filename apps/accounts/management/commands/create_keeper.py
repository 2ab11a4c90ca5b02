"""Make an account where sign-up is closed: its keeper chooses the password by a link."""

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import User
from apps.accounts.password_links import password_path


class Command(BaseCommand):
    help = "Make an account for an e-mail and print the path where its password is chosen, once."

    def add_arguments(self, parser):
        parser.add_argument("email")

    def handle(self, *args, email, **options):
        user = User(email=User.objects.normalize_email(email))
        user.set_unusable_password()
        try:
            user.full_clean(exclude=["password"])
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from None
        user.save()
        self.stdout.write(f"Made. Send them this path on your site: {password_path(user)}")
