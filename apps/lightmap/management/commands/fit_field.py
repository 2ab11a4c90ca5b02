"""Fit a light field to a file of readings and tell its PAR at a file of points."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar, TextIO

from django.core.management.base import BaseCommand, CommandError, CommandParser

from apps.lightmap.field_files import (
    TankFile,
    read_points,
    read_readings,
    read_tank,
    write_estimate,
)
from apps.lightmap.tank_json import FieldFileError
from apps.photics.field.light_field import LightField, NotEnoughReadings, fit_light_field
from apps.photics.field.readings import SurveyReadings
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.estimate import Estimate


class Command(BaseCommand):
    """fit_field TANK.json READINGS.csv --at POINTS.csv [--out OUT.csv]"""

    help = "PAR with its 90 % interval at points of a tank, from readings. Needs no database."
    requires_system_checks: ClassVar[list[str]] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the files."""
        parser.add_argument("tank", help="the tank and its fixtures, JSON")
        parser.add_argument("readings", help="x_cm,y_cm,depth_cm,par")
        parser.add_argument("--at", required=True, help="x_cm,y_cm,depth_cm of the points wanted")
        parser.add_argument("--out", help="where to write; the screen when left out")

    def handle(self, **options: str) -> None:
        """Read, fit, write; a fault in a file ends with one line and exit code 2."""
        try:
            described = read_tank(options["tank"])
            field = fit_file(described, options["readings"])
            points = read_points(options["at"], described.tank)
            put(self.stdout, options["out"], points, field.at(points))
        except FieldFileError as fault:
            raise CommandError(str(fault), returncode=2) from fault


def fit_file(
    described: TankFile, readings_path: str, others: Sequence[SurveyReadings] = ()
) -> LightField:
    """Return the LightField of a TankFile and a file of readings, or raise FieldFileError.

    others: what was read on other days, under the rig of then.
    """
    points, par, lines = read_readings(readings_path, described.tank)
    try:
        return fit_light_field(
            points,
            par,
            tank=described.tank,
            fixtures=described.fixtures,
            rocks=described.rocks,
            others=others,
            meter_uncertainty_percent=described.meter_uncertainty_percent,
        )
    except NotEnoughReadings as problem:
        raise FieldFileError(readings_path, lines[-1], str(problem)) from problem


def put(screen: TextIO, path: str, points_cm: FloatArray, estimate: Estimate) -> None:
    """Write the Estimate to a file, or to the screen when there is no path."""
    if not path:
        write_estimate(screen if screen is not None else sys.stdout, points_cm, estimate)
        return
    try:
        with Path(path).open("w", newline="", encoding="utf-8") as stream:
            write_estimate(stream, points_cm, estimate)
    except OSError as problem:
        cause = problem.strerror or "cannot be written"
        raise FieldFileError(path, 1, cause) from problem
