"""Bringing history in on its page: look, answer, add, add again, take back, bring back."""

import datetime as dt
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from apps.common.templatetags.reef import day_words
from apps.corals.models import Coral, CoralSize, HealthNote, HistoryImport, Spot, WaterEvent
from apps.lighting.models import LightChange
from tests.factories import make_coral, make_note, make_tank, make_water_event
from tests.workbooks import ods_bytes, xlsx_bytes

DAY = dt.date(2025, 3, 1)
ROWS = [
    ["Date", "Alk (dKH)", "Light %", "Lamp", "Green branching", "Red plate", "Events"],
    [DAY, 8.2, 60, None, "good", None, "water change 20 %"],
    [DAY + dt.timedelta(days=1), 8.3, 60, None, None, "pale", None],
    [DAY + dt.timedelta(days=2), 8.4, 75, "raised the lamps", "rtn", None, None],
]
TEXT = "\n".join(";".join("" if c is None else str(c) for c in row) for row in ROWS)
NEW_PLATE = {"name": ["redplate"], "name_means": ["new:lps"]}
WRITTEN = (HealthNote, WaterEvent, LightChange, Spot, CoralSize, HistoryImport)


@pytest.fixture
def coral(tank):
    return make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def url(tank):
    return reverse("history_import", args=[tank.pk])


def counts(response):
    page = response.content.decode()
    return {k: int(v) for k, v in re.findall(r'data-(new|known|refused|waiting)="(\d+)"', page)}


def written():
    return {model.__name__: model.objects.count() for model in WRITTEN}


def add(client, tank, text=TEXT, **more):
    return client.post(url(tank), {"text": text, "add": "1", **NEW_PLATE, **more})


@pytest.mark.parametrize("make", [xlsx_bytes, ods_bytes])
def test_a_file_is_shown_and_nothing_is_written(client, tank, coral, make):
    before = written()
    file = SimpleUploadedFile("two_years.xlsx", make(("Log", ROWS)))
    response = client.post(url(tank), {"file": file})
    assert counts(response) == {"new": 7, "known": 0, "refused": 0, "waiting": 1}
    assert written() == before


def test_what_was_shown_is_added_and_told(client, tank, coral):
    response = add(client, tank, source="two_years.xlsx")
    assert response.status_code == 302 and response["Location"] == url(tank)
    assert written() | {"Spot": 0} == {
        "HealthNote": 3, "WaterEvent": 4, "LightChange": 1, "Spot": 0, "CoralSize": 0,
        "HistoryImport": 1,
    }  # fmt: skip
    plate = Coral.objects.get(name="Red plate")
    assert (plate.group, plate.added_on) == ("lps", DAY + dt.timedelta(days=1))
    assert HealthNote.objects.get(coral=plate).created_by == tank.owner
    page = client.get(url(tank)).content.decode()
    assert "two_years.xlsx" in page and "3 notes" in page


def test_the_same_file_twice_adds_nothing(client, tank, coral):
    add(client, tank)
    before = written()
    response = client.post(url(tank), {"text": TEXT})
    assert counts(response) == {"new": 0, "known": 8, "refused": 0, "waiting": 0}
    add(client, tank)
    assert written() == before


def test_a_file_that_grew_adds_only_what_is_new(client, tank, coral):
    add(client, tank)
    longer = f"{TEXT}\n2025-03-04;8.5;75;;pale;;\n"
    assert counts(client.post(url(tank), {"text": longer}))["new"] == 2
    add(client, tank, text=longer)
    assert (HealthNote.objects.count(), WaterEvent.objects.count()) == (4, 5)
    assert HistoryImport.objects.count() == 2


def test_a_note_edited_since_is_not_added_anew_but_one_deleted_is(client, tank, coral):
    add(client, tank)
    edited, deleted = HealthNote.objects.filter(coral=coral).order_by("noted_on")
    edited.text = "mended by hand"
    edited.save()
    deleted.remove()
    assert counts(client.post(url(tank), {"text": TEXT}))["new"] == 1


def test_what_was_typed_by_hand_before_is_known(client, tank, coral):
    make_note(coral, noted_on=DAY, seen="well")
    response = client.post(url(tank), {"text": TEXT, **NEW_PLATE})
    assert counts(response)["known"] == 1


def test_taking_it_back_takes_all_of_it_and_nothing_else(client, tank, coral):
    other = make_water_event(tank)
    add(client, tank)
    row = HistoryImport.objects.get()
    client.post(reverse("history_import_remove", args=[row.pk]))
    assert not HealthNote.objects.present().exists()
    assert not LightChange.objects.present().exists()
    assert list(WaterEvent.objects.present()) == [other]
    assert list(tank.corals.present()) == [coral]
    assert counts(client.post(url(tank), {"text": TEXT, **NEW_PLATE}))["new"] == 8


def test_what_was_taken_back_comes_back(client, tank, coral):
    add(client, tank)
    row = HistoryImport.objects.get()
    client.post(reverse("history_import_remove", args=[row.pk]))
    client.post(reverse("history_import_restore", args=[row.pk]))
    assert HealthNote.objects.present().count() == 3 and tank.corals.present().count() == 2
    assert WaterEvent.objects.present().count() == 4 and LightChange.objects.present().count() == 1
    assert counts(client.post(url(tank), {"text": TEXT}))["new"] == 0


def test_a_new_coral_that_was_used_since_stays(client, tank, coral):
    add(client, tank)
    plate = Coral.objects.get(name="Red plate")
    later = make_note(plate)
    client.post(reverse("history_import_remove", args=[HistoryImport.objects.get().pk]))
    assert plate in tank.corals.present() and list(plate.notes.present()) == [later]


def test_a_coral_is_dated_back_with_its_notes_and_forward_with_them(client, tank):
    coral = make_coral(tank, at_cm=None, since=dt.date(2025, 6, 1))
    response = client.post(url(tank), {"text": TEXT, **NEW_PLATE})
    assert counts(response)["waiting"] == 2
    add(client, tank, earlier=[coral.pk])
    coral.refresh_from_db()
    assert coral.added_on == DAY and coral.notes.count() == 2
    client.post(reverse("history_import_remove", args=[HistoryImport.objects.get().pk]))
    coral.refresh_from_db()
    assert coral.added_on == dt.date(2025, 6, 1)


def test_lines_that_cannot_be_read_stay_on_the_page(client, tank, coral):
    text = f"{TEXT}\n2025-03-05;warm;75;;;;\n"
    response = add(client, tank, text=text)
    page = response.content.decode()
    assert counts(response) == {"new": 0, "known": 8, "refused": 1, "waiting": 0}
    assert "Line 5" in page and "2025-03-05;warm;75" in page
    assert HealthNote.objects.count() == 3


def test_a_column_is_chosen_by_hand(client, tank, coral):
    text = "wann;x\n2025-03-01;25\n"
    page = client.post(url(tank), {"text": text}).content.decode()
    assert 'name="column0"' in page and "history-unread" not in page.split("</details>")[-1]
    more = {"column0": "date", "column1": "water:temperature", "unit1": "°C"}
    add(client, tank, text=text, **more)
    assert WaterEvent.objects.get().amount() == "25 °C"


def test_a_unit_is_changed_by_hand(client, tank):
    add(client, tank, text="date;Temp\n2025-03-01;25\n", unit1="°F")
    assert WaterEvent.objects.get().unit == "°F"


def test_a_file_chosen_anew_is_read_without_the_answers_before(client, tank, coral):
    file = SimpleUploadedFile("b.csv", b"date;Temp\n2025-03-01;25\n")
    response = client.post(url(tank), {"file": file, "column1": "", "text": TEXT})
    assert counts(response)["new"] == 1


def test_an_unreadable_file_is_refused_and_the_box_kept(client, tank):
    file = SimpleUploadedFile("a.xlsx", b"PK\x03\x04nothing")
    response = client.post(url(tank), {"file": file, "text": "2025-03-01;kept"})
    assert response.status_code == 422 and "2025-03-01;kept" in response.content.decode()


def test_notes_belong_to_the_tank_of_the_page_alone(client, tank, owner, coral):
    other = make_tank(owner, name="Other tank")
    make_coral(other, at_cm=None, since=dt.date(2025, 1, 1))
    response = client.post(
        url(other), {"text": TEXT, "name": ["redplate"], "name_means": [str(coral.pk)]}
    )
    assert counts(response)["waiting"] == 1
    assert not HealthNote.objects.exists()


def test_co_keeper_may_viewer_and_stranger_may_not(
    as_user, tank, coral, co_keeper, viewer, stranger
):
    assert add(as_user(co_keeper), tank).status_code == 302
    row = HistoryImport.objects.get()
    assert row.created_by == co_keeper
    remove = reverse("history_import_remove", args=[row.pk])
    for user, status in ((viewer, 403), (stranger, 404)):
        client = as_user(user)
        assert client.get(url(tank)).status_code == status
        assert add(client, tank, text="date;Temp\n2025-03-09;25").status_code == status
        assert client.post(remove).status_code == status
    assert WaterEvent.objects.count() == 4


def test_a_restored_import_that_no_longer_fits_stays_away_whole(client, tank):
    make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))
    add(client, tank, text="date;coral;x;y;depth\n2025-03-01;Green branching;10;10;10\n")
    row, coral = HistoryImport.objects.get(), Coral.objects.get()
    client.post(reverse("history_import_remove", args=[row.pk]))
    Spot.objects.create(coral=coral, since=DAY, x_cm=1, y_cm=1, depth_cm=1)
    client.post(reverse("history_import_restore", args=[row.pk]))
    assert HistoryImport.objects.get().removed_at is not None
    assert [spot.x_cm for spot in coral.spots.all()] == [1]


def test_days_are_shown_as_all_pages_show_them(client, tank, coral):
    page = client.post(url(tank), {"text": TEXT}).content.decode()
    assert "1 Mar 2025" in page and "since 2 Mar 2025" in page and "2025-03-01</span>" not in page


def test_a_day_that_an_older_job_left_in_words_stays_as_it_is():
    assert (day_words("2025-03-01"), day_words("1 Mar 2025")) == ("1 Mar 2025", "1 Mar 2025")
