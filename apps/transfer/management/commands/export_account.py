"""Write all of an account, its tanks and photos included, into one zip file."""

import tempfile
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import User
from apps.transfer.archive.writing import write_account


class Command(BaseCommand):
    help = "Write all of a keeper's account into a zip file; import_tank brings it back."

    def add_arguments(self, parser):
        parser.add_argument("keeper", help="e-mail of the account")
        parser.add_argument("out", type=Path, help="the file to write; it must not exist yet")

    def handle(self, *, keeper, out, **options):
        user = User.objects.filter(email__iexact=keeper).first()
        if user is None:
            raise CommandError(f"No account uses {keeper}.")
        try:
            with out.open("xb") as file, tempfile.TemporaryFile() as scratch:
                count = len(write_account(user, file, scratch))
        except FileExistsError:
            raise CommandError(f"{out} exists already.") from None
        self.stdout.write(f"{out}: {count} tank{'' if count == 1 else 's'} of {user}.")
