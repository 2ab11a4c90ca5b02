"""Make an account where sign-up is closed: its keeper chooses the password by a link."""

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from apps.accounts.models import User


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
        key = default_token_generator.make_token(user)
        path = reverse(
            "account_reset_password_from_key",
            kwargs={"uidb36": user_pk_to_url_str(user), "key": key},
        )
        self.stdout.write(f"Made. Send them this path on your site: {path}")
