"""A tank's tables for other programs: CSV, one workbook, one described package."""

import csv
import datetime as dt
import io
import json
import zipfile

import pytest
from django.urls import reverse
from frictionless import Package
from python_calamine import CalamineWorkbook

from apps.later.models import Job
from apps.later.progress import read_progress
from apps.later.running import run_job
from apps.surveys.models import Survey
from apps.tanks.models import Membership
from apps.transfer.tables import jobs
from apps.transfer.tables.package import DESCRIPTION
from apps.transfer.tables.table import Column, csv_cell
from apps.transfer.tables.tables import BY_NAME, TABLES
from tests.factories import (
    hang,
    make_coral,
    make_day_curve,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_note,
    make_water_event,
)

pytestmark = pytest.mark.one_database

FORMULA = "=HYPERLINK(1)"
NAMES = [table.name for table in TABLES if table.name != "light"]


@pytest.fixture
def full_tank(tank):
    meter = make_meter(tank.owner, label="@meter", correction_factor=1.1)
    survey = make_lit_survey(tank, meter=meter)
    Survey.objects.filter(pk=survey.pk).update(correction_factor=1.1, level_percent=50.0)
    coral = make_coral(tank, name=FORMULA, genus="+1")
    make_note(coral, text="-2\nsecond line")
    make_note(coral, text="deleted").remove()
    make_water_event(tank)
    make_day_curve(tank)
    change = make_light_change(tank, summary="a “quoted”, text", tells_rig=True)
    hang(change, make_fixture(tank.owner))
    return tank


def fetched(client, name, tank):
    return client.get(reverse(f"export_{name}", args=[tank.pk]))


def lines_of(client, name, tank):
    text = fetched(client, name, tank).content.decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_reading_has_meter_factor_level_value_and_par(as_user, owner, full_tank):
    line = lines_of(as_user(owner), "readings", full_tank)[0]
    assert line["meter"] == "'@meter" and float(line["correction_factor"]) == 1.1
    assert float(line["level_percent"]) == 50.0
    assert float(line["par_umol"]) == pytest.approx(1.1 * float(line["value"]))
    assert float(line["par_peak_umol"]) == pytest.approx(2.2 * float(line["value"]))


@pytest.mark.parametrize("name", NAMES)
def test_columns_are_those_of_the_table(as_user, owner, full_tank, name):
    lines = lines_of(as_user(owner), name, full_tank)
    assert lines and list(lines[0]) == [column.name for column in BY_NAME[name].columns]


def test_no_cell_begins_as_a_formula(as_user, owner, full_tank):
    client = as_user(owner)
    for name in NAMES:
        for line in lines_of(client, name, full_tank):
            for cell in line.values():
                starts = cell[:1] in ("=", "+", "-", "@", "\t", "\r")
                assert not starts or float(cell) is not None
    (coral,) = lines_of(client, "corals", full_tank)
    assert coral["name"] == f"'{FORMULA}" and coral["genus"] == "'+1"


def test_deleted_rows_stay_out(as_user, owner, full_tank):
    texts = [line["text"] for line in lines_of(as_user(owner), "notes", full_tank)]
    assert "deleted" not in texts and "'-2\nsecond line" in texts


def test_workbook_opens_elsewhere_with_texts_as_they_are(as_user, owner, full_tank):
    content = fetched(as_user(owner), "workbook", full_tank).content
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    assert book.sheet_names == ["columns", *(table.name for table in TABLES)]
    head, *corals = book.get_sheet_by_name("corals").to_python()
    assert head == [column.name for column in BY_NAME["corals"].columns]
    assert corals[0][head.index("name")] == FORMULA
    assert isinstance(corals[0][head.index("added_on")], dt.date)
    readings = book.get_sheet_by_name("readings").to_python()
    assert len(readings) == 1 + 27 and isinstance(readings[1][-1], float)
    said = book.get_sheet_by_name("columns").to_python()
    assert len(said) == 1 + sum(len(table.columns) for table in TABLES)


def test_package_is_valid_by_its_own_description(as_user, owner, full_tank, tmp_path):
    path = tmp_path / "tables.zip"
    path.write_bytes(fetched(as_user(owner), "package", full_tank).content)
    with zipfile.ZipFile(path) as archive:
        archive.extractall(tmp_path / "out")
        names = archive.namelist()
    report = Package(str(tmp_path / "out" / DESCRIPTION)).validate()
    assert report.valid, report.flatten(["rowNumber", "fieldName", "type", "message"])
    assert sorted(names) == sorted([DESCRIPTION, *(f"{table.name}.csv" for table in TABLES)])
    assert len(report.tasks) == len(TABLES)


def test_validation_would_see_a_wrong_value(as_user, owner, full_tank, tmp_path):
    """Else the test above would prove nothing."""
    content = fetched(as_user(owner), "package", full_tank).content
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        archive.extractall(tmp_path)
    table = tmp_path / "readings.csv"
    table.write_text(table.read_text().replace("quantum,1.1,", "quantum,much,", 1))
    assert not Package(str(tmp_path / DESCRIPTION)).validate().valid


def test_every_quantity_has_a_unit(as_user, owner, full_tank):
    content = fetched(as_user(owner), "package", full_tank).content
    stated = json.loads(zipfile.ZipFile(io.BytesIO(content)).read(DESCRIPTION))
    for resource in stated["resources"]:
        for field in resource["schema"]["fields"]:
            if field["name"].endswith(("_cm", "_umol", "_mol", "_percent", "_deg", "_hours")):
                assert field["unit"], field
            assert field["description"]


@pytest.mark.parametrize(
    ("value", "cell"),
    [(None, ""), (True, "true"), (1.5, "1.5"), (-3.0, "-3"), ("-3", "'-3"), ("\t=1", "'\t=1"),
     (dt.date(2026, 3, 1), "2026-03-01"),
     (dt.datetime(2026, 3, 1, 1, tzinfo=dt.timezone(dt.timedelta(hours=2))),
      "2026-02-28T23:00:00Z")],
)  # fmt: skip
def test_cell(value, cell):
    assert csv_cell(value) == cell


def test_page_lists_files_with_what_they_hold(as_user, owner, viewer, stranger, full_tank):
    url = reverse("tank_exports", args=[full_tank.pk])
    context = as_user(owner).get(url).context
    files = context["light_files"] + context["table_files"]
    client = as_user(viewer)
    for file in files:
        answer = client.get(file.address)
        assert answer.status_code == 200
        if file.kind == "CSV":
            text = io.StringIO(answer.content.decode(), newline="")
            assert len(list(csv.reader(text))) == 1 + file.count
    assert len(files) == 2 + len(NAMES) and as_user(stranger).get(url).status_code == 404
    assert reverse("tank_export", args=[full_tank.pk]) in as_user(owner).get(url).content.decode()
    assert reverse("tank_export", args=[full_tank.pk]) not in client.get(url).content.decode()


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_rows_are_counted_without_being_made(full_tank, table):
    assert table.count(full_tank) == len(list(table.rows(full_tank))) > 0


@pytest.mark.parametrize("name", [*NAMES, "workbook", "package"])
def test_files_are_for_readers(as_user, viewer, stranger, full_tank, name):
    assert fetched(as_user(viewer), name, full_tank).status_code == 200
    assert fetched(as_user(stranger), name, full_tank).status_code == 404


def test_empty_tank_has_empty_tables(as_user, owner, tank):
    for name in NAMES:
        assert lines_of(as_user(owner), name, tank) == []
    assert fetched(as_user(owner), "workbook", tank).status_code == 200
    assert as_user(owner).get(reverse("tank_exports", args=[tank.pk])).status_code == 200


def test_columns_have_types_the_schema_knows():
    known = {"string", "number", "integer", "boolean", "date", "datetime"}
    for table in TABLES:
        assert {column.type for column in table.columns} <= known
        assert all(isinstance(column, Column) for column in table.columns)


class TestAHeavyTank:
    """What takes long to write is written behind the page, for whoever asked for it."""

    @pytest.fixture(autouse=True)
    def all_heavy(self, monkeypatch):
        monkeypatch.setattr(jobs, "ROWS_AT_ONCE", 1)

    @pytest.fixture
    def ready(self, django_capture_on_commit_callbacks):
        """Return a function that asks for a file, and gives the page of the job that wrote it."""

        def ask(client, name, tank):
            with django_capture_on_commit_callbacks(execute=True):
                led = fetched(client, name, tank)
            return client.get(led.url)

        return ask

    @pytest.mark.parametrize("name", ["readings", "workbook", "package"])
    def test_the_file_is_the_same(self, as_user, viewer, full_tank, ready, monkeypatch, name):
        client = as_user(viewer)
        answer = ready(client, name, full_tank).context["answer"]
        behind = client.get(answer.address)
        monkeypatch.setattr(jobs, "ROWS_AT_ONCE", 10**6)
        at_once = fetched(client, name, full_tank)
        assert behind["Content-Disposition"] == at_once["Content-Disposition"]
        # Others bear the minute in which they are made.
        if name == "readings":
            assert b"".join(behind) == at_once.content
        assert behind["Content-Type"].partition(";")[0] == at_once["Content-Type"].partition(";")[0]

    def test_how_many_rows_are_in_is_said(self, as_user, owner, full_tank, ready, kept_folder):
        ready(as_user(owner), "readings", full_tank)
        assert read_progress(str(Job.objects.get().key)) == (0, 27, "rows")

    def test_one_that_is_asked_for_again_is_written_anew(
        self, as_user, owner, full_tank, ready, django_capture_on_commit_callbacks
    ):
        ready(as_user(owner), "readings", full_tank)
        first = Job.objects.get()
        with django_capture_on_commit_callbacks(execute=True):
            ready(as_user(owner), "readings", full_tank)
        assert Job.objects.get().pk != first.pk and not first.file.storage.exists(first.file.name)

    def test_until_one_is_written_anew_the_last_stays(self, as_user, owner, full_tank, ready):
        address = ready(as_user(owner), "readings", full_tank).context["answer"].address
        fetched(as_user(owner), "readings", full_tank)
        assert as_user(owner).get(address).status_code == 200 and Job.objects.count() == 2

    def test_one_under_way_is_enough(self, as_user, owner, full_tank):
        first, second = (fetched(as_user(owner), "readings", full_tank) for _ in range(2))
        assert first.url == second.url and Job.objects.count() == 1

    def test_who_may_not_look_any_more_gets_nothing(self, as_user, viewer, full_tank):
        fetched(as_user(viewer), "readings", full_tank)
        Membership.objects.all().delete()
        run_job(Job.objects.get().pk)
        job = Job.objects.get()
        assert job.state == "failed" and not job.file

    def test_what_is_ready_is_kept_from_who_may_not_look_any_more(
        self, as_user, viewer, full_tank, ready
    ):
        client = as_user(viewer)
        page = ready(client, "readings", full_tank)
        address = page.context["answer"].address
        assert client.get(address).status_code == 200
        Membership.objects.all().delete()
        assert client.get(address).status_code == 404
        led = client.get(page.request["PATH_INFO"]).context["answer"]
        assert led.file_name == "" and client.get(led.address).status_code == 200

    @pytest.mark.parametrize("who", ["co_keeper", "stranger"])
    def test_it_is_for_who_asked(self, as_user, request, viewer, full_tank, ready, who):
        ready(as_user(viewer), "readings", full_tank)
        address = reverse("job_file", args=[Job.objects.get().key])
        assert as_user(request.getfixturevalue(who)).get(address).status_code == 404

    def test_a_stranger_puts_nothing_down(self, as_user, stranger, full_tank):
        assert fetched(as_user(stranger), "workbook", full_tank).status_code == 404
        assert not Job.objects.exists()
