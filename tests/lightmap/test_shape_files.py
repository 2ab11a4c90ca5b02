"""Tanks that are no boxes as files: read, mapped, foretold, and refused by name."""

import json
from io import StringIO

import numpy as np
import pytest
from django.core.management import call_command

from apps.lightmap.field_files import read_points, read_readings, read_tank
from apps.lightmap.tank_json import FieldFileError
from tests.benchmarks.shape_worlds import FOLDER, load_shaped
from tests.lightmap.test_fit_field import LAMP, write, write_tank

CORNER = [[0, 60], [0, 0], [25, 0], [60, 35], [60, 60]]
SQUARE = {"length_cm": 60, "width_cm": 60}
HEADING = "x_cm,y_cm,depth_cm,par\n"
BRACE = {"x_cm": 0, "y_cm": 0, "length_cm": 60, "width_cm": 5, "transmission": 0.8}
OVERFLOW = {
    "x_cm": 40, "y_cm": 20, "depth_cm": 0, "length_cm": 20, "width_cm": 20, "height_cm": 45
}  # fmt: skip


def test_all_that_a_file_may_tell_is_read(tmp_path):
    read = read_tank(
        write_tank(
            tmp_path,
            **SQUARE,
            shape="outline",
            outline_cm=CORNER,
            braces=[BRACE],
            overflow=OVERFLOW,
            cover_transmission=0.8,
            window={"side": "left", "par_umol": 20},
        )
    ).tank
    assert (read.shape, len(read.outline_cm), read.cover_transmission) == ("outline", 5, 0.8)
    assert read.braces[0].transmission == 0.8 and read.overflow.x_cm == 40
    assert (read.window.side, read.window.par_umol) == ("left", 20)


def test_a_box_needs_nothing_more_and_may_say_so(tmp_path):
    assert read_tank(write_tank(tmp_path)).tank == read_tank(write_tank(tmp_path, shape="box")).tank


def test_a_round_tank_tells_its_own_sides(tmp_path):
    tank = read_tank(
        write_tank(tmp_path, length_cm=None, width_cm=None, shape="cylinder", radius_cm=27)
    ).tank
    assert (tank.length_cm, tank.width_cm, tank.shape) == (54, 54, "cylinder")


@pytest.mark.parametrize(
    ("change", "cause"),
    [
        ({"shape": "ball"}, "shape must be one of box, cylinder, bow, outline"),
        ({"shape": "cylinder"}, "radius_cm is missing"),
        ({"shape": "cylinder", "radius_cm": 25}, "radius_cm: a cylinder of radius 25 cm is 50 cm"),
        ({"shape": "bow"}, "bow_cm is missing"),
        ({"shape": "bow", "bow_cm": 40}, "bow_cm: a front 60 cm long"),
        ({"radius_cm": 30}, 'radius_cm is told, but shape is "box"'),
        ({"shape": "outline"}, "outline_cm is missing"),
        ({"shape": "outline", "outline_cm": [[0, 0], [60, 0]]}, "has 3 to 40 corners, not 2"),
        ({"shape": "outline", "outline_cm": [[0, 0], 60]}, "must be a list of corners"),
        (
            {"shape": "outline", "outline_cm": [[0, 0], [60, 60], [60, 0], [0, 60]]},
            "outline_cm: the outline crosses or touches itself",
        ),
        (
            {"shape": "outline", "outline_cm": [[0, 0], [60, 0], [60, 60], [30, 20], [0, 60]]},
            "outline_cm: the outline bends inward",
        ),
        (
            {"shape": "outline", "outline_cm": [[0, 0], [50, 0], [50, 60], [0, 60]]},
            "it must reach from 0 to length_cm, 60 cm",
        ),
        ({"braces": [BRACE | {"transmission": 2}]}, "brace 1: transmission is 2"),
        ({"braces": [BRACE, BRACE | {"x_cm": 30}]}, "brace 2: x_cm and length_cm end at 90"),
        ({"braces": 3}, "braces must be a list of objects"),
        ({"overflow": OVERFLOW | {"x_cm": 70}}, "overflow: lies outside the tank"),
        ({"overflow": {"x_cm": 4}}, "overflow: y_cm is missing"),
        ({"cover_transmission": 80}, "cover_transmission is 80; it must be from 0.05 to 1"),
        ({"window": {"side": "top", "par_umol": 20}}, "side must be one of left, right"),
        ({"window": {"side": "left"}}, "window: par_umol is missing"),
        ({"window": 5}, "window must be one object"),
        (
            {"back_wall": "black", "window": {"side": "back", "par_umol": 9}},
            "window: no daylight comes in by a black back",
        ),
    ],
)
def test_what_cannot_be_is_refused_by_name(tmp_path, change, cause):
    with pytest.raises(FieldFileError) as fault:
        read_tank(write_tank(tmp_path, **SQUARE, **change))
    assert cause in str(fault.value)


@pytest.mark.parametrize(
    ("shape", "row", "cause"),
    [
        ({"shape": "cylinder", "radius_cm": 30}, "3,3,10,80", "3, 3, outside the cylinder"),
        ({"shape": "bow", "bow_cm": 12}, "4,3,10,80", "4, 3, outside the bow"),
        ({"shape": "outline", "outline_cm": CORNER}, "55,5,10,80", "outside the outline"),
        ({"overflow": OVERFLOW}, "50,30,10,80", "50, 30, 10, in the overflow"),
    ],
)
def test_a_place_without_water_is_refused_with_its_line(tmp_path, shape, row, cause):
    tank = read_tank(write_tank(tmp_path, **SQUARE, **shape)).tank
    path = write(tmp_path, "readings.csv", HEADING + "30,30,10,80\n" + row)
    for read in (read_readings, read_points):
        with pytest.raises(FieldFileError) as fault:
            read(path, tank)
        assert "readings.csv: line 3: " in str(fault.value) and cause in str(fault.value)


def test_a_slip_of_the_ruler_is_no_fault(tmp_path):
    tank = read_tank(write_tank(tmp_path, **SQUARE, shape="cylinder", radius_cm=30)).tank
    path = write(tmp_path, "readings.csv", HEADING + "61.5,30,10,80")
    assert len(read_readings(path, tank)[0]) == 1


def rows_of(text):
    return np.loadtxt(StringIO(text), delimiter=",", skiprows=1)


def test_a_round_tank_goes_through_the_commands(tmp_path):
    world, out = load_shaped("cylinder"), StringIO()
    stem = FOLDER / "cylinder"
    points = write(tmp_path, "points.csv", "x_cm,y_cm,depth_cm\n27,27,10\n27,45,30\n")
    call_command("fit_field", f"{stem}.json", f"{stem}_readings.csv", at=str(points), stdout=out)
    now = rows_of(out.getvalue())
    after = write(
        tmp_path,
        "after.json",
        json.dumps(world.tank | {"fixtures": [f | {"level": 0.5} for f in world.tank["fixtures"]]}),
    )
    out = StringIO()
    call_command(
        "forecast_field", f"{stem}.json", f"{stem}_readings.csv", str(after), at=str(points),
        stdout=out,
    )  # fmt: skip
    np.testing.assert_allclose(rows_of(out.getvalue())[:, 3], now[:, 3] / 2, rtol=1e-3)


def test_a_forecast_into_another_shape_is_refused(tmp_path):
    world = load_shaped("cylinder")
    stem = FOLDER / "cylinder"
    tank = {key: value for key, value in world.tank.items() if key not in ("shape", "radius_cm")}
    after = write(tmp_path, "after.json", json.dumps(tank | {"fixtures": [LAMP]}))
    points = write(tmp_path, "points.csv", "x_cm,y_cm,depth_cm\n27,27,10\n")
    with pytest.raises(Exception, match="another"):
        call_command(
            "forecast_field", f"{stem}.json", f"{stem}_readings.csv", str(after), at=str(points)
        )
