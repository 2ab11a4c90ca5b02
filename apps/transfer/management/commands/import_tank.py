"""Bring a zip of a tank or of a whole account into a keeper's account."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import User
from apps.corals.photo_files import take_back_files
from apps.transfer.archive.account_in import bring_in
from apps.transfer.archive.form import UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.models import TankImport


class Command(BaseCommand):
    help = "Make tanks of a zip that export_tank, export_account or a page wrote."

    def add_arguments(self, parser):
        parser.add_argument("zip", type=Path)
        parser.add_argument("--keeper", required=True, help="e-mail of who shall own it")
        parser.add_argument("--again", action="store_true", help="even if it was imported before")

    def handle(self, *, zip, keeper, again, **options):
        owner = User.objects.filter(email__iexact=keeper).first()
        if owner is None:
            raise CommandError(f"No account uses {keeper}.")
        try:
            with zip.open("rb") as file, OpenedZip(file) as opened:
                self.refuse_known(opened, owner, again)
                result = bring_in(opened, keeper=owner)
        except OSError as problem:
            raise CommandError(str(problem)) from None
        except UnfitZip as problem:
            raise CommandError(f"{problem} Nothing was imported.") from None
        finally:
            # No request ends here that would take back files of rows that were not kept.
            take_back_files()
        for one in result:
            name = (
                f"tank {one.tank.pk}, {one.tank.name}" if one.tank else "what is the keeper’s own"
            )
            self.stdout.write(f"{name}: {one.rows} rows and {one.photos} photo files.")

    def refuse_known(self, opened, owner, again):
        digest = opened.manifest.digest
        known = TankImport.objects.filter(keeper=owner, digest=digest).first()
        if known and not again:
            raise CommandError(
                f"This zip is tank {known.tank_id} of {owner} already; --again makes another."
            )
