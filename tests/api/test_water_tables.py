"""The water log as a table by the API: looked at and added by the rules of its page."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.corals.models import WaterEvent
from apps.corals.water import large
from apps.later.models import Job
from apps.later.running import run_job
from tests.api.programs import program
from tests.factories import make_tank
from tests.workbooks import xlsx_bytes

TEXT = (
    "date;kind;value;unit;note;could hurt\n2026-03-01;alkalinity;8,2;dKH;;\n"
    "2026-03-04 21:30;temperature;29,5;°C;heater stuck;yes\nnoon;alkalinity;8;;;\n"
)


@pytest.fixture
def client(owner):
    return program(owner)


def at(tank, *rest):
    return "/".join(map(str, ["/api/v1/tanks", tank.pk, "water-events", "table", *rest, ""]))


def look(client, tank, text=TEXT, **said):
    return client.post(at(tank, "look"), {"text": text} | said, format="json")


def add(client, tank, text=TEXT, headers=None, **said):
    return client.post(at(tank), {"text": text} | said, format="json", headers=headers or {})


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_looks_at_a_table_and_adds_it(request, tank, who, status):
    client = program(request.getfixturevalue(who))
    assert look(client, tank).status_code == status and not WaterEvent.objects.exists()
    assert add(client, tank).status_code == status
    assert WaterEvent.objects.count() == 2 * (status == 200)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 200)])
def test_which_token_adds_a_table(tank, owner, scope, status):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert look(client, tank).status_code == status
    assert add(client, tank).status_code == status


def test_a_look_tells_what_would_be_added_and_which_lines_are_refused(client, tank):
    seen = look(client, tank).json()
    assert (seen["good"], seen["entries"], seen["new"], seen["bad"]) == (2, 2, 2, 1)
    assert seen["refused"][0]["number"] == 4 and "not a date" in seen["refused"][0]["problem"]
    first, second = seen["first"]
    assert first["is_new"] and second["could_hurt"] and "29.5" in second["words"]


def test_what_is_added_is_what_its_page_adds_and_once(client, as_user, owner, tank):
    made = add(client, tank).json()
    assert (made["added"], made["known"], made["bad"]) == (2, 0, 1)
    assert (again := add(client, tank).json())["added"] == 0 and again["known"] == 2
    other = make_tank(owner)
    page = {"text": TEXT, "import": "1"}
    as_user(owner).post(reverse("water_event_import", args=[other.pk]), page)
    facts = ("happened_at", "kind", "value", "unit", "text", "could_hurt", "created_by")
    rows = [list(t.water_events.values_list(*facts)) for t in (tank, other)]
    assert rows[0] == rows[1] and rows[0]


def test_a_file_is_read(client, tank):
    rows = [["date", "kind", "value", "unit"], ["2026-03-01", "alkalinity", 8.2, "dKH"]]
    file = SimpleUploadedFile("water.xlsx", xlsx_bytes(("Log", rows)))
    assert client.post(at(tank), {"file": file}, format="multipart").json()["added"] == 1


def test_dates_are_read_as_said(client, tank):
    text = "date;kind;value;unit\n3/4/2026;alkalinity;8.2;dKH\n"
    assert look(client, tank, text).json()["bad"] == 1
    assert add(client, tank, text, dates="month").json()["added"] == 1
    assert WaterEvent.objects.get().happened_at.month == 3


def test_sent_twice_by_one_key_it_gets_the_first_answer(client, tank):
    answers = [add(client, tank, headers={"Idempotency-Key": "one"}) for _ in range(2)]
    assert answers[1]["Idempotency-Replayed"] and answers[1].json()["added"] == 2


def test_a_table_of_no_entry_is_refused_with_why(client, tank):
    [said] = errors(add(client, tank, "date;kind;value\nnoon;alkalinity;8\n"))["text"]
    assert "Line 2" in said and "not a date" in said


@pytest.mark.parametrize(
    ("said", "field"),
    [({"dates": "year"}, "dates"), ({"unit": "cm"}, "unit"), ({"text": ""}, "text"),
     ({"file": "x"}, "file")],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, tank, said, field):
    assert list(errors(add(client, tank, **said))) == [field]
    assert not WaterEvent.objects.exists()


# --- A large one ------------------------------------------------------------------------------
def test_a_large_table_is_looked_at_and_added_by_jobs(client, tank, monkeypatch):
    monkeypatch.setattr(large, "READ_AT_ONCE_LINES", 1)
    monkeypatch.setattr(large, "ADDED_AT_ONCE_LINES", 1)
    looked, added = look(client, tank), add(client, tank)
    assert looked.status_code == added.status_code == 202
    key = looked.json()["key"]
    assert client.get(at(tank, "look", key)).status_code == 404
    for job in Job.objects.all():
        run_job(job.pk)
    assert client.get(at(tank, "look", key)).json()["good"] == 2
    outcome = client.get(added["Location"]).json()["outcome"]
    assert outcome == {"added": 2, "known": 0, "left": 1} and WaterEvent.objects.count() == 2
    # What a job added is read in the log.
    assert client.get(at(tank, "look", added.json()["key"])).status_code == 404


def test_what_a_job_read_is_its_keepers_alone(client, tank, co_keeper, monkeypatch):
    monkeypatch.setattr(large, "READ_AT_ONCE_LINES", 1)
    key = look(client, tank).json()["key"]
    run_job(Job.objects.get().pk)
    assert program(co_keeper).get(at(tank, "look", key)).status_code == 404
    assert client.get(at(make_tank(tank.owner), "look", key)).status_code == 404
