"""A tank's history as a table by the API: looked at, answered, added and taken back."""

import datetime as dt
import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.common.models import SentRequest
from apps.common.programs.idempotency import KEPT_FOR
from apps.corals.history import sent
from apps.corals.models import Coral, CoralSize, HealthNote, HistoryImport, Spot, WaterEvent
from apps.later.clearing import KEPT, drop_ended_jobs
from apps.later.models import Job
from apps.later.running import run_job
from apps.lighting.models import LightChange
from tests.api.programs import program
from tests.api.test_clubs import queries_of
from tests.corals.history.test_views import DAY, ROWS, TEXT, written
from tests.factories import make_coral, make_note, make_tank, make_user
from tests.workbooks import ods_bytes, xlsx_bytes

NEW_PLATE = {"names": {"redplate": "new:lps"}}


@pytest.fixture
def client(owner):
    return program(owner)


@pytest.fixture
def coral(tank):
    return make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))


def at(tank, *rest):
    return "/".join(map(str, ["/api/v1/tanks", tank.pk, "history-imports", *rest, ""]))


def look(client, tank, text=TEXT, **said):
    return client.post(at(tank, "look"), {"text": text} | said, format="json")


def add(client, tank, text=TEXT, headers=None, **said):
    body = {"text": text} | NEW_PLATE | said
    return client.post(at(tank), body, format="json", headers=headers or {})


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "looks", "adds"),
    [("owner", 200, 201), ("co_keeper", 200, 201), ("viewer", 403, 403), ("stranger", 404, 404)],
)
def test_who_looks_at_a_table_and_adds_it(request, tank, coral, who, looks, adds):
    client = program(request.getfixturevalue(who))
    assert look(client, tank).status_code == looks
    assert add(client, tank).status_code == adds
    assert HistoryImport.objects.count() == (adds == 201)
    assert client.get(at(tank)).status_code == (404 if who == "stranger" else 200)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 201)])
def test_which_token_adds_a_table(tank, coral, owner, scope, status):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert look(client, tank).status_code == (200 if status == 201 else 403)
    assert add(client, tank).status_code == status
    assert client.get(at(tank)).status_code == 200


# --- A look -----------------------------------------------------------------------------------
def test_a_look_tells_what_would_be_added_and_writes_nothing(client, tank, coral):
    before = written()
    seen = look(client, tank, TEXT + "\nnonsense;8.4;;;;;").json()
    assert (seen["new"], seen["known"], seen["bad"], seen["waiting"]) == (7, 0, 1, 1)
    assert seen["refused"][0]["text"] == "nonsense;8.4;;;;;" and seen["refused"][0]["number"] == 5
    assert [column["holds"] for column in seen["columns"]] == [
        "date", "water:alkalinity", "level", "light", "coral_notes", "coral_notes", "events",
    ]  # fmt: skip
    notes = next(kind for kind in seen["kinds"] if kind["kind"] == "note")
    assert notes["new"] == 2 and notes["entries"][0]["day"] == DAY.isoformat()
    assert written() == before


def test_a_name_that_is_not_known_is_asked_and_answered(client, tank, coral):
    [name] = look(client, tank).json()["names"]
    assert (name["key"], name["name"], name["count"]) == ("redplate", "Red plate", 1)
    assert name["since"] == (DAY + dt.timedelta(days=1)).isoformat()
    answered = look(client, tank, names={"Red plate": "new:lps"}).json()
    assert answered["waiting"] == 0 and answered["new"] == 8
    assert [(c["id"], c["name"]) for c in answered["new_corals"]] == [(None, "Red plate")]
    assert look(client, tank, other_names="out").json()["new"] == 7
    assert look(client, tank, names={"redplate": str(coral.pk)}).json()["new"] == 8


def test_columns_and_units_are_taken_as_said(client, tank, coral):
    said = {"columns": {"1": "", "6": ""}, **NEW_PLATE}
    seen = look(client, tank, **said).json()
    assert [seen["columns"][at]["holds"] for at in (1, 6)] == ["", ""] and seen["new"] == 4
    units = look(client, tank, units={"1": "meq/L"}).json()["columns"]
    assert units[1]["unit"] == "meq/L"


def test_a_coral_that_was_there_earlier_is_asked_for_and_dated_back(client, tank):
    coral = make_coral(tank, at_cm=None, since=DAY + dt.timedelta(days=1))
    [arrival] = look(client, tank).json()["arrivals"]
    assert arrival["coral"]["id"] == coral.pk and arrival["first"] == DAY.isoformat()
    add(client, tank, earlier=[coral.pk])
    coral.refresh_from_db()
    assert coral.added_on == DAY


def test_a_word_whose_meaning_is_not_known_is_asked_for(client, tank, coral):
    text = "date;coral;seen\n2025-03-01;Green branching;wobbly\n"
    [word] = look(client, tank, text).json()["signs"]
    assert word["key"] == "wobbly" and look(client, tank, text).json()["new"] == 0
    assert add(client, tank, text, signs={"wobbly": "paling"}).status_code == 201
    assert HealthNote.objects.get(coral=coral).seen == "paling"


@pytest.mark.parametrize(
    ("text", "field"),
    [("a;b\n1;2\n", "columns"), ("date;alk\n3/4/2025;8.1\n5/6/2025;8.2\n", "dates")],
)
def test_what_must_be_said_first_is_a_problem_of_the_look_and_refuses_the_adding(
    client, tank, text, field
):
    assert look(client, tank, text).json()["problem"]
    assert list(errors(add(client, tank, text))) == [field]


def test_which_comes_first_in_dates_is_taken_as_said(client, tank):
    text = "date;alk (dKH)\n3/4/2025;8.1\n5/6/2025;8.2\n"
    add(client, tank, text, dates="month")
    assert {e.happened_at.month for e in WaterEvent.objects.all()} == {3, 5}


# --- Adding -----------------------------------------------------------------------------------
def test_what_is_added_is_what_its_page_adds(client, as_user, owner, tank, coral):
    made = add(client, tank)
    other = make_tank(owner)
    make_coral(other, at_cm=None, since=dt.date(2025, 1, 1))
    page = {"text": TEXT, "add": "1", "name": ["redplate"], "name_means": ["new:lps"]}
    as_user(owner).post(reverse("history_import", args=[other.pk]), page)
    by_page, by_program = HistoryImport.objects.all()
    assert by_page.counts() == by_program.counts() == made.json()["added"]["added"]
    assert made.json()["added"]["by"] == owner.shown_name()
    assert client.get(made["Location"]).json() == made.json()["added"]


def test_lines_left_out_are_told_and_the_rest_is_added(client, tank, coral):
    made = add(client, tank, TEXT + "\nnonsense;8.4;;;;;", names={}).json()
    assert made["bad"] == 1 and made["refused"][0]["number"] == 5 and made["waiting"] == 1
    assert written()["HealthNote"] == 2 and not Coral.objects.filter(name="Red plate").exists()
    assert add(client, tank).json()["added"]["added"] == {"coral": 1, "note": 1}


def test_nothing_new_is_nothing_stored(client, tank, coral):
    add(client, tank)
    before = written()
    again = add(client, tank)
    assert again.status_code == 200 and again.json()["added"] is None
    assert again.json()["known"] == 8 and written() == before


def test_sent_twice_by_one_key_it_gets_the_first_answer(client, tank, coral):
    first, second = (add(client, tank, headers={"Idempotency-Key": "one"}) for _ in range(2))
    assert second["Idempotency-Replayed"] and second.json() == first.json()
    assert second["Location"] == first["Location"] and HistoryImport.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("log.csv", TEXT.encode()),
        ("log.xlsx", xlsx_bytes(("Log", ROWS))),
        ("log.ods", ods_bytes(("Log", ROWS))),
    ],
    ids=["csv", "xlsx", "ods"],
)
def test_a_file_is_answered_in_its_form(client, tank, coral, name, data):
    body = {"file": SimpleUploadedFile(name, data), "names": json.dumps(NEW_PLATE["names"])}
    made = client.post(at(tank), body, format="multipart")
    assert made.status_code == 201 and made.json()["added"]["source"] == name
    assert HealthNote.objects.count() == 3


def test_an_empty_file_is_refused_at_the_file(client, tank):
    body = {"file": SimpleUploadedFile("log.csv", b"")}
    for address in (at(tank), at(tank, "look")):
        assert list(errors(client.post(address, body, format="multipart"))) == ["file"]


def test_many_imports_take_no_more_queries_than_one(client, tank, owner):
    HistoryImport.objects.create(tank=tank, created_by=owner)
    before = queries_of(client, at(tank))
    for _ in range(3):
        HistoryImport.objects.create(tank=tank, created_by=make_user())
    assert queries_of(client, at(tank)) == before


def test_it_is_taken_back_whole(client, tank, coral):
    make_note(coral)
    made = add(client, tank)
    assert client.delete(made["Location"]).status_code == 204
    assert HealthNote.objects.present().count() == 1
    assert not WaterEvent.objects.present().exists() and not LightChange.objects.present().exists()
    assert client.get(made["Location"]).status_code == 404
    assert client.get(at(tank)).json()["results"] == []


def test_spots_and_sizes_come_in_with_their_unit(client, tank, coral):
    text = "date;coral;x;y;depth;size\n2025-03-01;Green branching;4;5;6;2\n"
    add(client, tank, text, unit="in")
    assert Spot.objects.get(coral=coral).x_cm == pytest.approx(4 * 2.54)
    assert CoralSize.objects.get(coral=coral).diameter_cm == pytest.approx(2 * 2.54)


@pytest.mark.parametrize(
    ("said", "field"),
    [({"names": {"redplate": "nobody"}}, "names"), ({"names": [1]}, "names"),
     ({"columns": {"1": "colour"}}, "columns"), ({"columns": {"first": "date"}}, "columns"),
     ({"signs": {"wobbly": "wobbly"}}, "signs"), ({"conditions": {"so": "9"}}, "conditions"),
     ({"dates": "year"}, "dates"), ({"unit": "ft"}, "unit"), ({"earlier": ["one"]}, "earlier"),
     ({"other_names": "12"}, "other_names"), ({"name": "x"}, "name"), ({"text": " "}, "text")],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, tank, coral, said, field):
    assert list(errors(add(client, tank, **said))) == [field]
    assert not HistoryImport.objects.exists()


# --- A large one ------------------------------------------------------------------------------
@pytest.fixture
def all_large(monkeypatch):
    monkeypatch.setattr(sent, "ADDED_AT_ONCE_CELLS", 1)
    monkeypatch.setattr(sent, "READ_AT_ONCE_CELLS", 1)


def test_a_large_table_is_added_by_a_job(client, tank, coral, all_large):
    led = add(client, tank, headers={"Idempotency-Key": "one"})
    assert led.status_code == 202 and not HistoryImport.objects.exists()
    assert add(client, tank, headers={"Idempotency-Key": "one"})["Location"] == led["Location"]
    run_job(Job.objects.get().pk)
    job = client.get(led["Location"]).json()
    assert job["state"] == "done" and job["outcome"]["left"] == 0
    made = client.get(at(tank, job["outcome"]["import_pk"])).json()
    assert made["added"] == HistoryImport.objects.get().counts()


def test_a_large_table_is_looked_at_by_a_job_and_then_read(client, tank, coral, all_large):
    led = look(client, tank)
    key = led.json()["key"]
    assert led.status_code == 202 and client.get(at(tank, "look", key)).status_code == 404
    run_job(Job.objects.get().pk)
    behind = client.get(at(tank, "look", key))
    assert behind.status_code == 200 and behind.json()["new"] == 7
    assert client.get(at(make_tank(tank.owner), "look", key)).status_code == 404


def test_a_job_tells_what_must_be_said_first_and_adds_nothing(client, tank, all_large):
    led = add(client, tank, "date;alk\n3/4/2025;8.1\n5/6/2025;8.2\n")
    run_job(Job.objects.get().pk)
    job = client.get(led["Location"]).json()
    assert job["state"] == "failed" and "month first" in job["problem"]
    assert not WaterEvent.objects.exists()


@pytest.mark.parametrize("who", ["co_keeper", "viewer"])
def test_what_a_job_read_is_its_keepers_alone(request, client, tank, all_large, who):
    key = look(client, tank).json()["key"]
    run_job(Job.objects.get().pk)
    other = program(request.getfixturevalue(who))
    assert other.get(at(tank, "look", key)).status_code == 404


def test_no_key_answers_again_with_a_job_that_is_gone(client, tank, coral, all_large):
    first = add(client, tank, headers={"Idempotency-Key": "one"})
    job = Job.objects.get()
    run_job(job.pk)
    # As a week later: what ended is cleared away, and nothing else was sent meanwhile.
    long_ago = timezone.now() - KEPT - dt.timedelta(seconds=1)
    Job.objects.update(ended_at=long_ago)
    SentRequest.objects.update(sent_at=long_ago)
    list(drop_ended_jobs(timezone.now()))
    again = add(client, tank, headers={"Idempotency-Key": "one"})
    assert again.status_code == 202 and "Idempotency-Replayed" not in again.headers
    assert again["Location"] != first["Location"]
    assert client.get(again["Location"]).status_code == 200


def test_an_answer_is_kept_no_longer_than_the_job_it_may_name():
    assert KEPT_FOR <= KEPT
