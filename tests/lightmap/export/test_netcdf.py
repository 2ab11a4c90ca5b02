"""The light map as NetCDF: it opens elsewhere, keeps the numbers, and follows CF 1.11."""

import datetime as dt

import numpy as np
import pytest
import xarray
from compliance_checker.runner import CheckSuite
from django.urls import reverse
from django.utils import timezone

from apps.later.models import Job
from apps.later.progress import read_progress
from apps.lightmap.export import light_grid as light_grid_module
from apps.lightmap.export.files import UNKNOWN
from apps.lightmap.export.grid_csv import COLUMNS, write_csv
from apps.lightmap.export.light_grid import (
    POINTS_MOST,
    grid_axes,
    light_grid,
    point_count,
    takes_long,
)
from apps.lightmap.export.netcdf import PPFD, write_netcdf
from apps.lightmap.lightmap import read_light
from apps.tanks.models import Membership
from tests.factories import hang, make_fixture, make_light_change, make_lit_survey, make_rock


@pytest.fixture
def lit_tank(tank):
    make_lit_survey(tank)
    make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=1), day_hours=10.0)
    return tank


@pytest.fixture
def grid(lit_tank):
    make_rock(lit_tank)
    return light_grid(lit_tank, timezone.now())


@pytest.fixture
def file(grid, tmp_path):
    path = tmp_path / "light.nc"
    path.write_bytes(write_netcdf(grid, title="Light of Größe", made_at=grid.moment))
    return path


def is_clean(result, remarks):
    score = result.value if isinstance(result.value, tuple) else (result.value, True)
    return score[0] == score[1] and (not result.msgs or result.name in remarks)


def test_compliance_checker_finds_nothing(file):
    suite = CheckSuite()
    suite.load_all_available_checkers()
    dataset = suite.load_dataset(str(file))
    results, errors = suite.run_all(dataset, ["cf:1.11"])["cf:1.11"]
    assert not errors
    # A full score may bear a remark: in which group a coordinate was looked up.
    remarks = {"§2.7.1. Scope"}
    failed = [(r.name, r.value, r.msgs) for r in results if not is_clean(r, remarks)]
    assert len(results) > 20 and failed == []


def test_xarray_reads_what_the_map_says(file, grid, lit_tank):
    with xarray.open_dataset(file) as data:
        par = data["par"]
        assert par.standard_name == PPFD and par.units == "umol m-2 s-1"
        assert par.dims == ("y", "x", "depth") and "time" in par.coords
        here = {"x": 0.3, "y": 0.3, "depth": 0.25}
        near = data.sel(here, method="nearest")
        at = tuple(float(near[name]) * 100.0 for name in ("x", "y", "depth"))
        (light,) = read_light(lit_tank).at([at], grid.moment)
        # Many points at once are read between the knots of a lattice, a single one is not.
        assert float(near["par"]) == pytest.approx(light.par_umol, rel=0.03)
        assert float(near["par_lower"]) == pytest.approx(light.low_umol, rel=0.03)
        assert float(near["par_upper"]) == pytest.approx(light.high_umol, rel=0.03)
        moment = grid.moment.replace(tzinfo=None)
        assert abs(data["time"].values - np.datetime64(moment)) < np.timedelta64(1, "s")


def test_uncertainty_goes_with_the_light(file):
    with xarray.open_dataset(file) as data:
        for name in data["par"].ancillary_variables.split():
            assert data[name].dims == data["par"].dims
        error = data["par_standard_error"]
        assert error.standard_name == f"{PPFD} standard_error" and float(error.min()) > 0
        assert bool((data["par_lower"] <= data["par"]).where(data["par"].notnull(), True).all())


def test_nothing_is_stated_within_rock(file, grid):
    with xarray.open_dataset(file) as data:
        inside = data["par"].sel(x=0.25, y=0.25, depth=0.35, method="nearest")
        assert np.isnan(inside).all() and 0 < np.isnan(grid.par_umol).sum() < grid.par_umol.size


def test_grid_fits_a_spreadsheet_whatever_the_tank():
    for sides in ((30, 20, 20), (120, 60, 60), (600, 300, 200)):
        x, y, depth = grid_axes(*map(float, sides))
        assert len(x) * len(y) * len(depth) <= POINTS_MOST
        assert x[0] > 0 and x[-1] < sides[0] and depth[-1] < sides[2]
        assert x[0] + x[-1] == pytest.approx(sides[0])


def test_csv_has_each_point_in_water(grid):
    head, *lines, last = write_csv(grid).split("\r\n")
    assert head == ",".join(COLUMNS) and last == ""
    assert len(lines) == int((~np.isnan(grid.par_umol)).sum())
    *_place, par, low, high, daily, beyond = map(float, lines[0].split(","))
    assert low < par < high and daily > 0 and beyond in (0, 1)


def test_readers_get_the_files_and_strangers_none(as_user, owner, viewer, stranger, lit_tank):
    for name in ("export_light_csv", "export_light_netcdf"):
        url = reverse(name, args=[lit_tank.pk])
        codes = [as_user(user).get(url).status_code for user in (owner, viewer, stranger)]
        assert codes == [200, 200, 404]


def test_tank_without_light_has_no_file(as_user, owner, tank):
    answer = as_user(owner).get(reverse("export_light_csv", args=[tank.pk]))
    assert answer.url == reverse("light_map", args=[tank.pk])


def test_the_light_of_a_large_tank_is_written_behind_the_page(
    as_user, viewer, stranger, lit_tank, monkeypatch, django_capture_on_commit_callbacks
):
    client, at_once = as_user(viewer), {}
    names = ("export_light_csv", "export_light_netcdf")
    for name in names:
        at_once[name] = client.get(reverse(name, args=[lit_tank.pk]))
    monkeypatch.setattr(light_grid_module, "POINTS_OF_LAMPS_AT_ONCE", 1)
    for name in names:
        with django_capture_on_commit_callbacks(execute=True):
            led = client.get(reverse(name, args=[lit_tank.pk]))
        answer = client.get(led.url).context["answer"]
        behind = client.get(answer.address)
        assert behind["Content-Disposition"] == at_once[name]["Content-Disposition"]
        assert len(b"".join(behind)) == pytest.approx(len(at_once[name].content), rel=0.01)
        assert as_user(stranger).get(reverse(name, args=[lit_tank.pk])).status_code == 404
        assert as_user(stranger).get(answer.address).status_code == 404
    assert Job.objects.count() == 2


def test_how_many_points_are_worked_out_is_said_and_changes_none(lit_tank, monkeypatch):
    make_rock(lit_tank)
    moment = timezone.now()
    whole, heard = light_grid(lit_tank, moment), []
    most = len(whole.par_umol.ravel())
    monkeypatch.setattr(light_grid_module, "POINTS_A_PART", most // 4)
    parts = light_grid(lit_tank, moment, lambda *said: heard.append(said))
    counts = [done for done, of, what in heard if (of, what) == (most, "points")]
    assert counts == sorted(counts) and (counts[0], counts[-1]) == (0, most) and len(counts) >= 5
    names = ("par_umol", "low_umol", "high_umol", "dli_mol", "extrapolated")
    for name in names:
        np.testing.assert_allclose(getattr(parts, name), getattr(whole, name), rtol=1e-12)
    assert parts.rests_on == whole.rests_on


def test_the_job_of_a_file_of_light_says_how_far_it_is(
    as_user, viewer, lit_tank, monkeypatch, django_capture_on_commit_callbacks, kept_folder
):
    monkeypatch.setattr(light_grid_module, "POINTS_OF_LAMPS_AT_ONCE", 1)
    with django_capture_on_commit_callbacks(execute=True):
        as_user(viewer).get(reverse("export_light_csv", args=[lit_tank.pk]))
    done, of, what = read_progress(str(Job.objects.get().key))
    assert 0 <= done <= of and of > 0 and what == "points"


def test_a_file_of_light_is_kept_from_who_may_not_look_any_more(
    as_user, viewer, lit_tank, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(light_grid_module, "POINTS_OF_LAMPS_AT_ONCE", 1)
    client = as_user(viewer)
    with django_capture_on_commit_callbacks(execute=True):
        led = client.get(reverse("export_light_csv", args=[lit_tank.pk]))
    address = client.get(led.url).context["answer"].address
    assert client.get(address).status_code == 200
    Membership.objects.all().delete()
    assert client.get(address).status_code == 404


def test_of_a_large_tank_without_light_nothing_is_written(
    as_user, owner, tank, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(light_grid_module, "POINTS_OF_LAMPS_AT_ONCE", 1)
    with django_capture_on_commit_callbacks(execute=True):
        as_user(owner).get(reverse("export_light_csv", args=[tank.pk]))
    job = Job.objects.get()
    assert job.state == "failed" and job.problem == UNKNOWN and not job.file


@pytest.mark.parametrize(("lamps", "is_long"), [(1, False), (3, True)])
def test_points_and_lamps_tell_how_long_a_grid_takes(tank, monkeypatch, lamps, is_long):
    change = make_light_change(tank, tells_rig=True)
    for number in range(1, lamps + 1):
        hang(change, make_fixture(tank.owner, name=f"Panel {number}"))
    monkeypatch.setattr(light_grid_module, "POINTS_OF_LAMPS_AT_ONCE", 2 * point_count(tank))
    assert takes_long(tank) is is_long
