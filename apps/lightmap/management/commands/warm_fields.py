"""Fit the light of tanks before their keepers ask for it."""

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.models import F

from apps.lightmap.warming import warm_fields
from apps.tanks.models import Tank

SECONDS, SECONDS_MAX = 1800, 86_400


class Command(BaseCommand):
    """warm_fields [--seconds 1800]"""

    help = (
        "Fits the light of all tanks, those of the keepers who signed in last first, and keeps it, "
        "so that after an upgrade nobody waits for a map. What is kept already costs next to "
        "nothing. Ends after so many seconds."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--seconds", type=int, default=SECONDS)

    def handle(self, *args: object, seconds: int, **options: object) -> None:
        if not 0 < seconds <= SECONDS_MAX:
            raise CommandError(f"--seconds is a number from 1 to {SECONDS_MAX}.")
        last_in = F("owner__last_login").desc(nulls_last=True)
        tanks = Tank.objects.present().order_by(last_in, "pk")
        gone_through, mapped = warm_fields(tanks.iterator(), seconds=seconds)
        left = tanks.count() - gone_through
        later = f"; {left} left for another time" if left > 0 else ""
        self.stdout.write(f"{mapped} light maps are ready, of {gone_through} tanks{later}.")
