"""Readings after a change, and where to take them, by commands: files in and a file out."""

import json
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from tests.paths import DATA

TANK = DATA / "changed_tanks"


@pytest.fixture
def files(tmp_path):
    """The tank whose optic of another kind is forecast worst, its change and its truth."""
    box = json.loads((TANK / "tank-1.json").read_text())
    changes = box.pop("changes")
    box.pop("optics")
    after = box | {"fixtures": changes["raised, narrower"]}
    for name, tank in (("before.json", box), ("after.json", after)):
        (tmp_path / name).write_text(json.dumps(tank, indent=1))
    readings = np.genfromtxt(TANK / "tank-1-readings.csv", delimiter=",", skip_header=1)
    write(tmp_path / "readings.csv", readings[:, :4])
    truth = np.genfromtxt(TANK / "tank-1-truth.csv", delimiter=",", skip_header=1)
    write(tmp_path / "points.csv", truth[:, [0, 1, 2, 5]])
    return tmp_path, truth[:, [0, 1, 2, 5]]


def write(path, rows):
    lines = [",".join(f"{value:g}" for value in row) for row in rows]
    path.write_text("\n".join(["x_cm,y_cm,depth_cm,par", *lines]) + "\n")


def run(command, *names, folder, **options):
    out = StringIO()
    call_command(command, *(str(folder / name) for name in names), stdout=out, **options)
    return np.genfromtxt(StringIO(out.getvalue()), delimiter=",", names=True)


def forecast(folder, **options):
    options |= {"at": str(folder / "points.csv")}
    names = ("before.json", "readings.csv", "after.json")
    return run("forecast_field", *names, folder=folder, **options)


def test_checks_at_suggested_spots_sharpen_the_forecast(files):
    folder, truth = files
    spots = run(
        "suggest_readings", "before.json", "readings.csv", folder=folder, count=2,
        after=str(folder / "after.json"), among=str(folder / "points.csv"),
    )  # fmt: skip
    chosen = np.column_stack([spots[name] for name in ("x_cm", "y_cm", "depth_cm")])
    # Every spot is one of those offered.
    place = [int(np.argmin(np.abs(truth[:, :3] - spot).sum(axis=1))) for spot in chosen]
    np.testing.assert_allclose(truth[place, :3], chosen)
    write(folder / "checks.csv", truth[place])
    alone, joined = forecast(folder), forecast(folder, checks=str(folder / "checks.csv"))

    def error(rows):
        return np.median(np.abs(rows["par_umol"] / truth[:, 3] - 1))

    def width(rows):
        return np.mean(rows["high_umol"] - rows["low_umol"])

    assert error(joined) < error(alone)
    assert width(joined) < 0.7 * width(alone)


def test_a_check_where_nothing_changed_joins_the_survey(files):
    folder, truth = files
    write(folder / "checks.csv", truth[:1])
    (folder / "after.json").write_text((folder / "before.json").read_text())
    rows = forecast(folder, checks=str(folder / "checks.csv"))
    assert np.isfinite(rows["par_umol"]).all()


def test_a_meters_uncertainty_widens_the_interval_as_stated(files):
    folder, _ = files
    box = json.loads((folder / "before.json").read_text())
    (folder / "unsure.json").write_text(json.dumps(box | {"meter_uncertainty_percent": 6}))
    names = {"at": str(folder / "points.csv"), "folder": folder}
    sure = run("fit_field", "before.json", "readings.csv", **names)
    unsure = run("fit_field", "unsure.json", "readings.csv", **names)
    own, wide = (np.log(r["high_umol"] / r["par_umol"]) for r in (sure, unsure))
    np.testing.assert_allclose(wide, np.hypot(own, 1.645 * np.log(1.06)), rtol=1e-3)


@pytest.mark.parametrize(
    ("row", "cause"),
    [("9,9,9,oops", "checks.csv: line 2: par"), ("900,9,9,5", "checks.csv: line 2: x_cm is 900")],
)
def test_a_bad_check_is_refused_by_its_line(files, row, cause):
    folder, _ = files
    (folder / "checks.csv").write_text(f"x_cm,y_cm,depth_cm,par\n{row}\n")
    with pytest.raises(CommandError) as refused:
        forecast(folder, checks=str(folder / "checks.csv"))
    assert refused.value.returncode == 2
    assert cause in str(refused.value)


def test_an_impossible_uncertainty_is_refused(files):
    folder, _ = files
    box = json.loads((folder / "before.json").read_text())
    (folder / "before.json").write_text(json.dumps(box | {"meter_uncertainty_percent": 31}))
    with pytest.raises(CommandError, match="meter_uncertainty_percent is 31"):
        forecast(folder)


@pytest.mark.parametrize("count", [0, -2])
def test_no_spots_cannot_be_suggested(files, count):
    folder, _ = files
    with pytest.raises(CommandError, match="1 or more"):
        run(
            "suggest_readings", "before.json", "readings.csv", folder=folder, count=count,
            among=str(folder / "points.csv"),
        )  # fmt: skip
