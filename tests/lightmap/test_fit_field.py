"""The fit_field command: files in, a file out, and one line for every fault."""

import json
import subprocess
import sys
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from apps.lightmap.field_files import read_readings, read_tank
from apps.lightmap.tank_json import FieldFileError
from tests.paths import ROOT
from tests.photics.photometric_files import LAMBERTIAN, ies_text, lopsided

TRACED = ROOT / "tests" / "data" / "traced_tanks" / "case-01"
BOX = {"length_cm": 60, "width_cm": 40, "depth_cm": 45, "back_wall": "glass", "fixtures": []}
LAMP = {
    "x_cm": 30,
    "y_cm": 20,
    "height_cm": 20,
    "beam_deg": 90,
    "panel_x_cm": 20,
    "panel_y_cm": 20,
}
READINGS = (
    "x_cm,y_cm,depth_cm,par\n10,10,5,200\n50,10,5,190\n10,30,30,90\n50,30,30,95\n30,20,15,210"
)


def write_tank(folder, **changes):
    path = folder / "tank.json"
    path.write_text(json.dumps(BOX | changes, indent=1))
    return path


def write(folder, name, text):
    path = folder / name
    path.write_bytes(text.encode())
    return path


def run(tank, readings, points, **options):
    out = StringIO()
    call_command("fit_field", str(tank), str(readings), at=str(points), stdout=out, **options)
    return out.getvalue()


def test_a_traced_tank_goes_through_the_command_line(tmp_path):
    out = tmp_path / "out.csv"
    subprocess.run(
        [
            sys.executable,
            "manage.py",
            "fit_field",
            TRACED / "tank.json",
            TRACED / "readings.csv",
            "--at",
            TRACED / "truth.csv",
            "--out",
            out,
        ],
        cwd=ROOT,
        check=True,
    )
    estimate = np.genfromtxt(out, delimiter=",", names=True)
    truth = np.genfromtxt(TRACED / "truth.csv", delimiter=",", names=True)
    assert estimate.dtype.names == (
        *("x_cm", "y_cm", "depth_cm", "par_umol", "low_umol", "high_umol", "extrapolated"),
    )
    # The fit is good to 2 % in the middle of this tank; 5 % leaves room for other machines.
    assert np.median(np.abs(estimate["par_umol"] / truth["par"] - 1)) < 0.05
    assert (estimate["low_umol"] < estimate["par_umol"]).all()


def test_a_fault_ends_with_code_two_and_one_line(tmp_path):
    readings = write(tmp_path, "readings.csv", READINGS.replace("190", "much"))
    done = subprocess.run(
        [
            sys.executable,
            "manage.py",
            "fit_field",
            write_tank(tmp_path),
            readings,
            "--at",
            TRACED / "truth.csv",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    (fault,) = done.stderr.strip().splitlines()
    assert fault.startswith(f"CommandError: {readings}: line 3: ") and fault.endswith("much")


def test_mark_line_ends_and_blank_lines_do_not_matter(tmp_path):
    tank = write_tank(tmp_path)
    plain = write(tmp_path, "plain.csv", READINGS)
    windows = "\ufeff" + READINGS.replace("\n", "\r\n\r\n") + "\r\n \r\n"
    points = write(tmp_path, "points.csv", "x_cm,y_cm,depth_cm\n30,20,10\n")
    assert run(tank, write(tmp_path, "windows.csv", windows), points) == run(tank, plain, points)


def test_options_of_the_tank_file_reach_the_fit(tmp_path):
    rock = {"x_cm": 5, "y_cm": 5, "depth_cm": 20}
    rock |= {"length_cm": 9, "width_cm": 8, "height_cm": 7}
    lamp = LAMP | {"level": 0.5, "kind": "puck", "turn_deg": 20, "tilt_deg": -15}
    described = read_tank(write_tank(tmp_path, bottom="sand", rocks=[rock], fixtures=[lamp]))
    assert (described.tank.bottom, described.rocks[0].length_cm) == ("sand", 9)
    fixture = described.fixtures[0]
    assert (fixture.level, fixture.kind, fixture.turn_deg, fixture.tilt_deg) == (
        0.5,
        "puck",
        20,
        -15,
    )


def without_beam(**changes):
    return {key: value for key, value in LAMP.items() if key != "beam_deg"} | changes


def test_photometric_file_beside_the_tank_is_the_optic(tmp_path):
    write(tmp_path, "lamp.ies", LAMBERTIAN.read_text())
    lamp = without_beam(photometric_file="lamp.ies")
    fixture = read_tank(write_tank(tmp_path, fixtures=[lamp])).fixtures[0]
    assert 120 < fixture.beam_deg < 140 and fixture.optic is not None


def test_photometric_file_lies_along_the_longer_side(tmp_path):
    """The file's opening is twice as long along its 0-degree plane as across."""
    write(tmp_path, "lamp.ies", ies_text(lopsided, horizontal=tuple(range(0, 361, 15))))
    sides = ({"panel_x_cm": 40, "panel_y_cm": 10}, {"panel_x_cm": 10, "panel_y_cm": 40})
    lamps = [without_beam(photometric_file="lamp.ies", **side) for side in sides]
    along, across = (
        lamp.optic for lamp in read_tank(write_tank(tmp_path, fixtures=lamps)).fixtures
    )
    turns = np.array([0.0, 60.0, 200.0])
    np.testing.assert_allclose(
        across.look_up(np.full(3, 40.0), turn_deg=turns - 90.0)[0],
        along.look_up(np.full(3, 40.0), turn_deg=turns)[0],
    )


@pytest.mark.parametrize(
    ("change", "cause"),
    [
        ({"length_cm": "long"}, "line 2: length_cm is not a number"),
        ({"depth_cm": 4000}, "line 4: depth_cm is 4000; it must be from 5 to 300"),
        ({"back_wall": "wood"}, "line 5: back_wall must be one of"),
        ({"back_wall": ["glass"]}, "line 5: back_wall must be one of"),
        ({"fixtures": [LAMP, LAMP | {"beam_deg": 500}]}, "line 19: fixture 2: beam_deg is 500"),
        ({"fixtures": [LAMP | {"height_cm": None}]}, "fixture 1: height_cm is missing"),
        ({"fixtures": [LAMP | {"kind": "sun"}]}, "fixture 1: kind must be one of"),
        ({"fixtures": [LAMP | {"tilt_deg": 90}]}, "tilt_deg is 90; it must be from -75 to 75"),
        ({"fixtures": [LAMP | {"photometric_file": "a.ies"}]}, "beam_deg or its photometric_file"),
        ({"fixtures": [without_beam(photometric_file=5)]}, "must be the name of a file"),
        ({"fixtures": [without_beam(photometric_file="none.ies")]}, "none.ies: line 1: No such"),
        ({"fixtures": [without_beam(photometric_file="tank.json")]}, "neither an LM-63"),
        ({"rocks": 3}, "rocks must be a list of objects"),
    ],
)
def test_faults_of_a_tank_are_named_with_their_line(tmp_path, change, cause):
    with pytest.raises(FieldFileError) as fault:
        read_tank(write_tank(tmp_path, **change))
    assert cause in str(fault.value)


def test_json_that_breaks_off_is_named_with_its_line(tmp_path):
    with pytest.raises(FieldFileError) as fault:
        read_tank(write(tmp_path, "tank.json", '{\n"length_cm": 60,\n"width_cm": }'))
    assert "tank.json: line 3: " in str(fault.value)


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("", "line 1: is empty"),
        ("x_cm,y_cm,par\n1,2,3", "line 1: column depth_cm is missing"),
        ("x_cm,y_cm,depth_cm,par\n1,2,3", "line 2: par is missing"),
        ("x_cm,y_cm,depth_cm,par\n1,2,3,nan", "line 2: par is not a number"),
        ("x_cm,y_cm,depth_cm,par\n1,2,3,-5", "line 2: par is -5"),
        ("x_cm,y_cm,depth_cm,par\n1,2,3,4\n99,2,3,4", "line 3: x_cm is 99, outside the tank"),
        ("x_cm,y_cm,depth_cm,par\n", "holds no row"),
    ],
)
def test_faults_of_readings_are_named_with_their_line(tmp_path, text, cause):
    tank = read_tank(write_tank(tmp_path)).tank
    with pytest.raises(FieldFileError) as fault:
        read_readings(write(tmp_path, "readings.csv", text), tank)
    assert cause in str(fault.value)


def test_too_few_readings_are_refused_in_one_line(tmp_path):
    readings = write(tmp_path, "readings.csv", "\n".join(READINGS.split("\n")[:3]))
    points = write(tmp_path, "points.csv", "x_cm,y_cm,depth_cm\n30,20,10\n")
    with pytest.raises(CommandError) as refused:
        run(write_tank(tmp_path), readings, points)
    assert refused.value.returncode == 2
    assert "readings.csv: line 3: " in str(refused.value)


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(FieldFileError, match=r"nowhere\.json: line 1: No such file"):
        read_tank(tmp_path / "nowhere.json")
