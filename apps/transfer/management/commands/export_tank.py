"""Write all a tank holds, photos included, into one zip file."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from apps.tanks.models import Tank
from apps.transfer.archive.writing import write_tank


class Command(BaseCommand):
    help = "Write a tank's rows and photos into a zip file."

    def add_arguments(self, parser):
        parser.add_argument("tank", type=int, help="the tank's number, as in its address")
        parser.add_argument("out", type=Path, help="the file to write; it must not exist yet")

    def handle(self, *, tank, out, **options):
        result = Tank.objects.filter(pk=tank).first()
        if result is None:
            raise CommandError(f"There is no tank {tank}.")
        try:
            with out.open("xb") as file:
                rows, photos, lost = write_tank(result, file)
        except FileExistsError:
            raise CommandError(f"{out} exists already.") from None
        self.stdout.write(f"{out}: {rows} rows and {photos} photo files of {result.name}.")
        if lost:
            self.stdout.write(f"{lost} photo files are missing from the store.")
