"""Each page that takes a table takes it as a spreadsheet file too."""

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from apps.corals.models import Coral
from apps.surveys.models import LoggedSeries
from apps.surveys.recording import rows_of
from tests.factories import make_survey
from tests.workbooks import ods_bytes, xlsx_bytes

MAKERS = [xlsx_bytes, ods_bytes]
DAY = dt.datetime(2026, 3, 1)


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def sheet(make, *rows):
    ending = "xlsx" if make is xlsx_bytes else "ods"
    return SimpleUploadedFile(f"table.{ending}", make(("Front page", []), ("Data", rows)))


def hidden_text(response):
    page = response.content.decode()
    return page.split('aria-label="Good lines">\n', 1)[1].split("</textarea>", 1)[0]


@pytest.mark.parametrize("make", MAKERS)
def test_a_survey(client, tank, make):
    survey = make_survey(tank, readings=[])
    file = sheet(make, ["x", "y", "depth", "PAR"], [10, 8, 5, "200-220"], [20, 8, 5, "n/a"])
    address, how = reverse("survey_import", args=[survey.pk]), {"unit": "cm", "how": "add"}
    preview = client.post(address, {"file": file, **how})
    assert 'data-good="1" data-bad="1"' in preview.content.decode()
    client.post(address, {"text": hidden_text(preview), "import": "1", **how})
    (row,) = rows_of(survey)
    assert (row.value_umol, round(row.spread_umol, 2)) == (210.0, 7.07)


@pytest.mark.parametrize("make", MAKERS)
def test_the_water_log(client, tank, make):
    file = sheet(make, ["date", "kind", "value", "unit"], [DAY.date(), "alkalinity", 8.2, "dKH"])
    address = reverse("water_event_import", args=[tank.pk])
    preview = client.post(address, {"file": file})
    assert "“Data”" in preview.context["sheet_words"]
    client.post(address, {"text": hidden_text(preview), "import": "1"})
    event = tank.water_events.get()
    assert event.amount() == "8.2 dKH" and event.happened_at.date() == DAY.date()


@pytest.mark.parametrize("make", MAKERS)
def test_corals(client, tank, make):
    file = sheet(make, ["name", "group"], ["Grey leather", "soft"])
    client.post(
        reverse("coral_many", args=[tank.pk]),
        {"file": file, "added_on": tank.today().isoformat(), "unit": "cm"},
    )
    assert tank.corals.get().group == Coral.Group.SOFT


@pytest.mark.parametrize("make", MAKERS)
def test_a_logger(client, tank, make):
    rows = [[DAY + dt.timedelta(minutes=10 * k), 100 + k] for k in range(6)]
    place = {"label": "Left", "x_cm": 5, "y_cm": 5, "depth_cm": 5, "correction_factor": 1}
    client.post(
        reverse("log_new", args=[tank.pk]), {"file": sheet(make, ["time", "PAR"], *rows), **place}
    )
    assert [value for _, value in LoggedSeries.objects.get().samples] == [100 + k for k in range(6)]


def test_a_sheet_by_its_name(client, tank):
    book = xlsx_bytes(("Notes", [["x"]]), ("Water", [["date", "kind"], [DAY.date(), "pest"]]))
    sent = {"file": SimpleUploadedFile("book.xlsx", book), "file_sheet": "Water"}
    page = client.post(reverse("water_event_import", args=[tank.pk]), sent).content.decode()
    assert "1 entry found" in page


def test_a_file_that_cannot_be_read_keeps_what_was_typed(client, tank):
    file = SimpleUploadedFile("water.xlsx", b"PK\x03\x04" + bytes(40))
    sent = {"file": file, "text": "2026-03-01;pest;;;;"}
    response = client.post(reverse("water_event_import", args=[tank.pk]), sent)
    page = response.content.decode()
    assert response.status_code == 422 and "2026-03-01;pest" in page
    assert 'id="id_file_error"' in page and not tank.water_events.exists()
