"""Foretell the light after a change of the fixtures, from readings taken before it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import ClassVar

from django.core.management.base import BaseCommand, CommandError, CommandParser

from apps.lightmap.field_files import (
    TankFile,
    fixtures_line,
    read_points,
    read_readings,
    read_tank,
)
from apps.lightmap.logged_factors import with_common
from apps.lightmap.management.commands.fit_field import fit_file, put
from apps.lightmap.tank_json import FieldFileError
from apps.photics.field.light_field import LightField
from apps.photics.field.readings import SurveyReadings
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.normal import NORMAL_90

# How far what a cover is stated to pass may be off [log]: our own choice, as in the light log.
COVER_DEVIATION = 0.05


class Command(BaseCommand):
    """forecast_field BEFORE.json READINGS.csv AFTER.json [--checks CHECKS.csv] --at POINTS.csv"""

    help = "PAR with its 90 % interval after a light change. Needs no database."
    requires_system_checks: ClassVar[list[str]] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the files."""
        parser.add_argument("before", help="the tank under which the readings were taken, JSON")
        parser.add_argument("readings", help="x_cm,y_cm,depth_cm,par")
        parser.add_argument("after", help="the tank after the change, fixtures in their order")
        parser.add_argument("--checks", help="readings taken after the change, one or more")
        parser.add_argument("--at", required=True, help="x_cm,y_cm,depth_cm of the points wanted")
        parser.add_argument("--out", help="where to write; the screen when left out")

    def handle(self, **options: str) -> None:
        """Read, fit, foretell, write; a fault in a file ends with one line and exit code 2."""
        try:
            before, after = read_tank(options["before"]), read_tank(options["after"])
            if before.tank != replace(after.tank, cover_transmission=cover_of(before)):
                raise FieldFileError(options["after"], 1, "is another box than before the change")
            field = forecast_basis(before, after, options)
            points = read_points(options["at"], before.tank)
            forecast = foretell(field, after, options)
            put(
                self.stdout,
                options["out"],
                points,
                covered(forecast.at(points), passes(before, after)),
            )
        except FieldFileError as fault:
            raise CommandError(str(fault), returncode=2) from fault


def forecast_basis(
    before: TankFile, after: TankFile, options: Mapping[str, str | None]
) -> LightField:
    """Return the field of the readings before the change, joined by those after it."""
    readings, checks = str(options["readings"]), options.get("checks")
    if not checks or not any(fixture.level > 0 for fixture in before.fixtures):
        return fit_file(before, readings)
    points, par, _ = read_readings(checks, before.tank)
    # The fit knows the light under the cover of before; how far another one's may be off is the
    # readings' to say.
    ratio = passes(before, after)
    unsure = COVER_DEVIATION if ratio != 1.0 else 0.0
    check = SurveyReadings(points, par / ratio, scale_deviation=unsure)
    if after.fixtures != before.fixtures:
        check = replace(check, fixtures=after.fixtures, same_as=after.same_as)
    try:
        return fit_file(before, readings, [check])
    except FieldFileError:
        raise
    except ValueError as problem:
        path = str(options["after"])
        raise FieldFileError(path, fixtures_line(path), str(problem)) from problem


def cover_of(described: TankFile) -> float:
    """Return what of the light a tank's cover passes [1]."""
    return described.tank.cover_transmission


def passes(before: TankFile, after: TankFile) -> float:
    """Return the light under the cover of after for 1 under that of before [1]."""
    return cover_of(after) / cover_of(before)


def covered(light: Estimate, ratio: float) -> Estimate:
    """Return an Estimate under another cover, and wider by how far its ratio may be off."""
    if ratio == 1.0:
        return light
    par, low, high = (ratio * part for part in (light.par_umol, light.low_umol, light.high_umol))
    low, high = with_common(par, low, high, NORMAL_90 * COVER_DEVIATION)
    return replace(light, par_umol=par, low_umol=low, high_umol=high)


def foretell(field: LightField, after: TankFile, options: Mapping[str, str]) -> LightField:
    """Return the field after the change, or raise FieldFileError naming the file at fault."""
    path = options["after"] if field.calibrated else options["before"]
    try:
        return field.forecast(after.fixtures, same_as=after.same_as)
    except ValueError as problem:
        raise FieldFileError(path, fixtures_line(path), str(problem)) from problem
