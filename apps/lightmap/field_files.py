"""Tanks, readings and points as plain files: read with a line for every fault, and written.

A tank is a JSON object: length_cm, width_cm, depth_cm, back_wall ("glass" or "black"), fixtures
and, if wanted, meter_uncertainty_percent, bottom ("bare" or "sand") and rocks. A fixture has
x_cm, y_cm, height_cm, panel_x_cm, panel_y_cm and beam_deg, or in its place photometric_file: a
name beside the tank's file, its longer side along the panel's; if wanted level (0 to 1), turn_deg,
tilt_deg (see photics/ground/scene.py), kind, emitter ("bare", "lens", "reflector" or "diffuser")
and name. A tank that is more than a box has the keys that `shape_files` tells. Readings and points
are comma-separated with a heading line. Nothing here needs the database.
"""

import csv
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TextIO

import numpy as np

from apps.lightmap.shape_files import place_fault, shaped, with_sides
from apps.lightmap.tank_json import (
    Bounds,
    FieldFileError,
    FilePath,
    Finder,
    Item,
    Record,
    read_text,
)
from apps.photics import limits
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.scene import EMITTERS, Fixture, Rock, Tank
from apps.photics.photometry.distribution import Photometry
from apps.photics.photometry.reading import read_photometry
from apps.photics.photometry.text import PhotometryError
from apps.photics.rig.optic_fit import OpticFit, fit_optic, length_turned_deg

# For each column the headings it may stand under.
Columns = tuple[tuple[str, ...], ...]

BACK_WALLS = {"glass": "clear", "clear": "clear", "black": "dark", "dark": "dark"}
BOTTOMS = ("bare", "sand")
KINDS = ("puck", "panel", "tube", "bar")
# A place written down as just outside the glass is taken as a slip of the ruler [cm], house rule.
OUTSIDE_CM = 2.0

SIDE = (limits.TANK_SIDE_MIN_CM, limits.TANK_SIDE_MAX_CM)
FACE = (limits.FIXTURE_SIDE_MIN_CM, limits.FIXTURE_SIDE_MAX_CM)
FAR = (-limits.TANK_SIDE_MAX_CM, 2.0 * limits.TANK_SIDE_MAX_CM)
BOX_BOUNDS = {
    "length_cm": SIDE,
    "width_cm": SIDE,
    "depth_cm": (limits.TANK_DEPTH_MIN_CM, limits.TANK_DEPTH_MAX_CM),
}
METER_UNCERTAINTY = (0.0, limits.METER_UNCERTAINTY_MAX_PERCENT)
FIXTURE_BOUNDS = {
    "x_cm": FAR,
    "y_cm": FAR,
    "height_cm": (limits.FIXTURE_HEIGHT_MIN_CM, limits.FIXTURE_HEIGHT_MAX_CM),
    "beam_deg": (limits.BEAM_MIN_DEG, limits.BEAM_MAX_DEG),
    "panel_x_cm": FACE,
    "panel_y_cm": FACE,
}
FIXTURE_OPTIONS = {
    "level": (0.0, 1.0),
    "turn_deg": (-limits.TURN_MAX_DEG, limits.TURN_MAX_DEG),
    "tilt_deg": (-limits.TILT_MAX_DEG, limits.TILT_MAX_DEG),
}
ROCK_BOUNDS = {
    "x_cm": FAR,
    "y_cm": FAR,
    "depth_cm": (0.0, limits.TANK_DEPTH_MAX_CM),
    "length_cm": (0.1, limits.TANK_SIDE_MAX_CM),
    "width_cm": (0.1, limits.TANK_SIDE_MAX_CM),
    "height_cm": (0.1, limits.TANK_DEPTH_MAX_CM),
}


@dataclass(frozen=True)
class TankFile:
    """What a tank file tells; `same_as` holds, for each fixture, whose output it takes.

    None for a fixture that hung before as well, else the place of that fixture, counted from 0.
    """

    tank: Tank
    fixtures: tuple[Fixture, ...]
    rocks: tuple[Rock, ...]
    same_as: tuple[int | None, ...]
    meter_uncertainty_percent: float = 0.0  # one standard deviation of the meter's scale


def read_tank(path: FilePath) -> TankFile:
    """Return the TankFile of a JSON file, or raise FieldFileError."""
    finder, box = read_object(path, "a tank")
    return tank_of(finder, box)


def read_object(path: FilePath, noun: str) -> tuple[Finder, Record]:
    """Return the one JSON object of a file, which is `noun`, and its Finder; raises."""
    text = read_text(path)
    try:
        box = json.loads(text)
    except json.JSONDecodeError as problem:
        raise FieldFileError(path, problem.lineno, f"not JSON: {problem.msg}") from problem
    except RecursionError as problem:
        raise FieldFileError(path, 1, "not JSON: nested too deeply") from problem
    if not isinstance(box, dict):
        raise FieldFileError(path, 1, f"{noun} must be one JSON object")
    return Finder(path, text), box


def tank_of(finder: Finder, box: Record) -> TankFile:
    """Return the TankFile of a tank's JSON object, or raise FieldFileError."""
    box = with_sides(box)
    sizes = {key: finder.number(box, key, bounds) for key, bounds in BOX_BOUNDS.items()}
    back = BACK_WALLS[finder.word(box, "back_wall", BACK_WALLS, default="glass")]
    bottom = finder.word(box, "bottom", BOTTOMS, default="bare")
    listed = finder.records(box, "fixtures")
    if len(listed) > limits.FIXTURES_MAX:
        raise finder.fault(f"more than {limits.FIXTURES_MAX} fixtures", "fixtures")
    fixtures = tuple(read_fixture(finder, item, k) for k, item in enumerate(listed))
    rocks = tuple(
        Rock(**read_numbers(finder, item, ROCK_BOUNDS, "rock", k))
        for k, item in enumerate(finder.records(box, "rocks"))
    )
    same_as = tuple(read_same_as(finder, listed, k) for k in range(len(listed)))
    plain = Tank(
        sizes["length_cm"], sizes["width_cm"], sizes["depth_cm"], back_pane=back, bottom=bottom
    )
    tank = shaped(plain, finder, box, ROCK_BOUNDS)
    uncertainty = finder.number(box, "meter_uncertainty_percent", METER_UNCERTAINTY, default=0.0)
    return TankFile(tank, fixtures, rocks, same_as, uncertainty)


def fixtures_line(path: FilePath) -> int:
    """Return the line of a tank file where its fixtures begin, from 1."""
    return Finder(path, read_text(path)).line_of("fixtures")


def read_numbers(
    finder: Finder, record: Record, bounds: Mapping[str, Bounds], noun: str, k: int
) -> dict[str, float]:
    """Return the numbers of the k-th fixture or rock by key."""
    where: Item = {"who": f"{noun} {k + 1}: ", "within": f"{noun}s", "nth": k}
    return {key: finder.number(record, key, limit, **where) for key, limit in bounds.items()}


def read_fixture(finder: Finder, record: Record, k: int) -> Fixture:
    """Return the k-th Fixture from its JSON object."""
    where: Item = {"who": f"fixture {k + 1}: ", "within": "fixtures", "nth": k}
    optic = photometry = None
    if "photometric_file" in record:
        photometry, fit = read_measured(finder, record, k)
        record = record | {"beam_deg": fit.beam_deg}
    numbers = read_numbers(finder, record, FIXTURE_BOUNDS, "fixture", k)
    defaults = {"level": 1.0, "turn_deg": 0.0, "tilt_deg": 0.0}
    for key, bounds in FIXTURE_OPTIONS.items():
        numbers[key] = finder.number(record, key, bounds, default=defaults[key], **where)
    if photometry is not None:
        sides = {"length_cm": numbers["panel_x_cm"], "width_cm": numbers["panel_y_cm"]}
        turned_deg = length_turned_deg(photometry.opening, **sides)
        turned = fit_optic(photometry, turned_deg=turned_deg)
        optic = turned.optic if turned else None
    kind = finder.word(record, "kind", KINDS, default="panel", **where)
    emitter = finder.word(record, "emitter", ("", *EMITTERS), default="", **where)
    return Fixture(
        **numbers, kind=kind, name=str(record.get("name", "")), optic=optic, emitter=emitter
    )


def read_measured(finder: Finder, record: Record, k: int) -> tuple[Photometry, OpticFit]:
    """Return the k-th fixture's Photometry and its fit, of an LM-63 or EULUMDAT file."""
    key, name = "photometric_file", record["photometric_file"]
    fault = partial(finder.fault, key=key, within="fixtures", nth=k)
    if "beam_deg" in record:
        raise fault(f"fixture {k + 1}: tell its beam_deg or its {key}, not both")
    if not isinstance(name, str):
        raise fault(f"fixture {k + 1}: {key} must be the name of a file")
    try:
        photometry = read_photometry(read_text(Path(finder.path).parent / name))
    except PhotometryError as problem:
        raise fault(f"fixture {k + 1}: {name}: {problem}") from problem
    fit = fit_optic(photometry)
    if fit is None:
        raise fault(f"fixture {k + 1}: {name}: sends no light down")
    return photometry, fit


def read_same_as(finder: Finder, listed: Sequence[Record], k: int) -> int | None:
    """Return whose output the k-th fixture takes, counted from 0; None for its own."""
    record = listed[k]
    if not record.get("new", False):
        return None
    where: Item = {"who": f"fixture {k + 1}: ", "within": "fixtures", "nth": k}
    standing = sum(not other.get("new", False) for other in listed)
    number = finder.number(record, "same_as", (1, max(standing, 1)), default=1, **where)
    if number != int(number):
        raise finder.fault(f"fixture {k + 1}: same_as must be a whole number", "same_as")
    return int(number) - 1


def read_columns(path: FilePath, wanted: Columns) -> tuple[FloatArray, list[int]]:
    """Return the columns of a comma-separated file, (n, columns), and each row's line number.

    wanted: for each column the headings it may stand under; others are passed over.
    """
    rows = csv.reader(read_text(path).split("\n"))
    places, values, lines = None, [], []
    try:
        for line, row in enumerate(rows, start=1):
            if not any(cell.strip() for cell in row):
                continue
            if places is None:
                places = heading_places(path, line, row, wanted)
                continue
            values.append([read_cell(path, line, row, at, wanted[k]) for k, at in places])
            lines.append(line)
    except csv.Error as problem:
        raise FieldFileError(path, rows.line_num, f"not CSV: {problem}") from problem
    if places is None:
        raise FieldFileError(path, 1, f"is empty; the heading is {heading(wanted)}")
    if not values:
        raise FieldFileError(path, rows.line_num, "holds no row under its heading")
    return np.array(values), lines


def heading(wanted: Columns) -> str:
    """Return the heading line a file should have."""
    return ",".join(names[0] for names in wanted)


def heading_places(
    path: FilePath, line: int, row: Sequence[str], wanted: Columns
) -> list[tuple[int, int]]:
    """Return pairs of wanted column and its place in the heading."""
    titles = [cell.strip().lower() for cell in row]
    places = []
    for k, names in enumerate(wanted):
        at = [titles.index(name) for name in names if name in titles]
        if not at:
            cause = f"column {names[0]} is missing; the heading is {heading(wanted)}"
            raise FieldFileError(path, line, cause)
        places.append((k, at[0]))
    return places


def read_cell(
    path: FilePath, line: int, row: Sequence[str], at: int, names: tuple[str, ...]
) -> float:
    """Return one cell as a finite number."""
    cell = row[at].strip() if at < len(row) else ""
    if not cell:
        raise FieldFileError(path, line, f"{names[0]} is missing")
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise FieldFileError(path, line, f"{names[0]} is not a number: {cell[:40]}")
    return value


PLACE: Columns = (("x_cm",), ("y_cm",), ("depth_cm",))
OUT_HEADING = ("x_cm", "y_cm", "depth_cm", "par_umol", "low_umol", "high_umol", "extrapolated")


def read_places(path: FilePath, tank: Tank, *more: tuple[str, ...]) -> tuple[FloatArray, list[int]]:
    """Return columns x, y, depth and more of a file, all places inside the tank."""
    values, lines = read_columns(path, PLACE + more)
    sizes = (tank.length_cm, tank.width_cm, tank.depth_cm)
    for row, line in zip(values, lines, strict=True):
        for (name,), value, size in zip(PLACE, row, sizes, strict=False):
            if not -OUTSIDE_CM <= value <= size + OUTSIDE_CM:
                cause = f"{name} is {value:g}, outside the tank (0 to {size:g})"
                raise FieldFileError(path, line, cause)
        if fault := place_fault(tank, row[:3].tolist(), outside_cm=OUTSIDE_CM):
            raise FieldFileError(path, line, fault)
    return values, lines


def read_points(path: FilePath, tank: Tank) -> FloatArray:
    """Return the points of a file, (n, 3) [cm], or raise FieldFileError."""
    return read_places(path, tank)[0]


def read_readings(path: FilePath, tank: Tank) -> tuple[FloatArray, FloatArray, list[int]]:
    """Return points (n, 3) [cm], PAR (n,) and the line of each reading, or raise."""
    values, lines = read_places(path, tank, ("par", "par_umol"))
    for value, line in zip(values[:, 3], lines, strict=True):
        if not limits.PAR_MIN_UMOL <= value <= limits.PAR_MAX_UMOL:
            low, high = limits.PAR_MIN_UMOL, limits.PAR_MAX_UMOL
            cause = f"par is {value:g}; it must be from {low:g} to {high:g}"
            raise FieldFileError(path, line, cause)
    return values[:, :3], values[:, 3], lines


def write_estimate(stream: TextIO, points_cm: FloatArray, estimate: Estimate) -> None:
    """Write an Estimate at points (n, 3) as comma-separated lines; extrapolated is 1 or 0."""
    out = csv.writer(stream, lineterminator="\n")
    out.writerow(OUT_HEADING)
    columns = (estimate.par_umol, estimate.low_umol, estimate.high_umol, estimate.extrapolated)
    for point, par, low, high, beyond in zip(points_cm, *columns, strict=True):
        place = [f"{value:.10g}" for value in point]
        out.writerow([*place, *(f"{value:.4f}" for value in (par, low, high)), int(beyond)])
