"""Which spots to read next, so that the map of now becomes surest, from files."""

from collections.abc import Mapping
from typing import ClassVar

from django.core.management.base import BaseCommand, CommandError, CommandParser

from apps.lightmap.field_files import read_points, read_tank
from apps.lightmap.management.commands.fit_field import fit_file, put
from apps.lightmap.management.commands.forecast_field import foretell
from apps.lightmap.tank_json import FieldFileError
from apps.photics.field.next_points import next_points


class Command(BaseCommand):
    """suggest_readings TANK.json READINGS.csv [--after AFTER.json] --among POINTS.csv --count N"""

    help = "The best spots of a list to read next, best first. Needs no database."
    requires_system_checks: ClassVar[list[str]] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the files and how many spots are wanted."""
        parser.add_argument("tank", help="the tank under which the readings were taken, JSON")
        parser.add_argument("readings", help="x_cm,y_cm,depth_cm,par")
        parser.add_argument("--after", help="the tank as it is lit now, if that changed, JSON")
        parser.add_argument("--among", required=True, help="x_cm,y_cm,depth_cm that can be read")
        parser.add_argument("--count", required=True, type=int, help="how many spots, 1 or more")
        parser.add_argument("--out", help="where to write; the screen when left out")

    def handle(self, **options: str) -> None:
        """Read, fit, choose, write; a fault in a file ends with one line and exit code 2."""
        try:
            self.suggest(options)
        except FieldFileError as fault:
            raise CommandError(str(fault), returncode=2) from fault

    def suggest(self, options: Mapping[str, str]) -> None:
        """Write the chosen spots and their light as it is foreseen."""
        if int(options["count"]) < 1:
            raise CommandError("--count must be 1 or more", returncode=2)
        described = read_tank(options["tank"])
        field = fit_file(described, options["readings"])
        if options.get("after"):
            after = read_tank(options["after"])
            if described.tank != after.tank:
                raise FieldFileError(options["after"], 1, "is another box than before the change")
            field = foretell(field, after, {"after": options["after"], "before": options["tank"]})
        among = read_points(options["among"], described.tank)
        spots = next_points(field, int(options["count"]), candidates=among)
        put(self.stdout, options["out"], spots, field.at(spots))
