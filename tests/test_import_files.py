"""Files as keepers have them, each with what it becomes: taken, asked about or refused."""

import csv
import datetime as dt
import io
import zipfile
from zoneinfo import ZoneInfo

import pytest

from apps.common.tables.reading import UnreadableTable
from apps.common.tables.workbook import read_table_file
from apps.corals.coral.many_importing import parse_corals
from apps.corals.history.reading import read_history
from apps.corals.water.importing import parse_events
from apps.photics.photometry.reading import read_photometry
from apps.photics.photometry.text import PhotometryError
from apps.surveys.models import Survey
from apps.surveys.tables.importing import UnsureColumns, parse_table
from apps.surveys.tables.log_reading import UnsureDates, parse_log
from apps.surveys.tables.survey_days import days_of
from apps.surveys.tables.wide_tables import unfold_wide
from tests.data.imports.make_files import HERE, contents
from tests.factories import make_coral, make_tank

ZONE = ZoneInfo("Europe/Madrid")
TAKEN, ASKED, REFUSED = "taken", "asked", "refused"
with (HERE / "expected.csv").open(encoding="utf-8", newline="") as _table:
    EXPECTED = list(csv.DictReader(_table, delimiter=";"))


@pytest.fixture
def tank(db):
    tank = make_tank(time_zone="Europe/Madrid")
    make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))
    return tank


def surveys(data, tank):
    text = read_table_file(data).text
    text = unfold_wide(text) or text
    if len(days := days_of(text)) > 1:
        return ASKED, 0, 0, f"{len(days)} days"
    parsed = parse_table(text, survey=Survey(tank=tank), unit="cm")
    return TAKEN, len(parsed.good), len(parsed.bad), words(parsed.bad)


def water(data, tank):
    parsed = parse_events(read_table_file(data).text, tank=tank)
    said = " ".join(filter(None, [*parsed.unread, words(parsed.bad)]))
    return TAKEN, len(parsed.good), len(parsed.bad), said


def history(data, tank):
    result = read_history(read_table_file(data).text, tank=tank)
    is_open = result.problem or result.waiting
    said = result.problem or words([*result.waiting, *result.bad])
    return ASKED if is_open else TAKEN, len(result.new), len(result.bad), said


def loggers(data, tank):
    parsed = parse_log(read_table_file(data).text, zone=ZONE)
    return TAKEN, len(parsed.samples), len(parsed.bad), words(parsed.bad)


def corals(data, tank):
    text = read_table_file(data).text
    parsed = parse_corals(text, tank=tank, added_on=tank.today(), unit="cm", names=())
    return TAKEN, len(parsed.good), len(parsed.bad), words(parsed.bad)


def photometry(data, tank):
    result = read_photometry(data.decode())
    return TAKEN, len(result.horizontal_deg), 0, " ".join(result.notes)


READERS = {f.__name__: f for f in (surveys, water, history, loggers, corals, photometry)}


def words(bad):
    return " ".join(line.problem for line in bad)


def outcome(path, data, tank):
    """Return (result, good, bad, what is said) of a file, read by the import of its folder."""
    try:
        return READERS[path.partition("/")[0]](data, tank)
    except (UnsureColumns, UnsureDates) as problem:
        return ASKED, 0, 0, str(problem)
    except (UnreadableTable, PhotometryError) as problem:
        is_question = "?" in str(problem).partition(".")[0] and "Which" in str(problem)
        return ASKED if is_question else REFUSED, 0, 0, str(problem)


@pytest.mark.parametrize("row", EXPECTED, ids=[row["file"] for row in EXPECTED])
def test_a_file_becomes_what_it_should(row, tank):
    result, good, bad, said = outcome(row["file"], (HERE / row["file"]).read_bytes(), tank)
    assert (result, good, bad) == (row["result"], int(row["good"]), int(row["bad"])), said
    assert row["words"] in said
    assert row["words"] or result == TAKEN


def test_every_file_has_its_expected_result_and_is_as_it_was_made():
    made = contents()
    assert [row["file"] for row in EXPECTED] == list(made) and len(EXPECTED) >= 90
    for path, content in made.items():
        assert unpacked((HERE / path).read_bytes()) == unpacked(content), path


def unpacked(data):
    """Return a zip's parts, since another machine packs them to other bytes; else the bytes."""
    if not data.startswith(b"PK"):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as file:
            return {name: file.read(name) for name in file.namelist()}
    except zipfile.BadZipFile:
        return "damaged"
