"""Tables of readings by the API: looked at, added and undone by the rules of their page."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.api.surveys.table_views import ReadingTableViewSet
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.recording import ReadingRow, rows_of, save_readings
from tests.api.programs import program
from tests.factories import make_survey, make_tank
from tests.workbooks import ods_bytes, xlsx_bytes

TABLE = "x,y,depth,par\n10,8,5,180\n10,8,5,bright\n20,8,5,190\n"


@pytest.fixture
def client(owner):
    return program(owner)


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


def at(survey, *rest):
    place = ["/api/v1/tanks", survey.tank_id, "surveys", survey.pk, *rest, ""]
    return "/".join(map(str, place))


def look(client, survey, text=TABLE, **said):
    return client.post(at(survey, "table", "look"), {"text": text} | said, format="json")


def add(client, survey, text=TABLE, headers=None, **said):
    body = {"text": text} | said
    return client.post(at(survey, "table"), body, format="json", headers=headers or {})


def add_file(client, survey, name, data, **said):
    body = {"file": SimpleUploadedFile(name, data)} | said
    return client.post(at(survey, "table"), body, format="multipart")


def values(survey):
    return [row.value_umol for row in rows_of(survey)]


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_looks_at_a_table_and_adds_it(request, survey, who, status):
    client = program(request.getfixturevalue(who))
    assert look(client, survey).status_code == status and values(survey) == []
    assert add(client, survey).status_code == status
    assert values(survey) == ([180.0, 190.0] if status == 200 else [])
    assert client.post(at(survey, "undo"), {"version": 1}).status_code == status


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 200)])
def test_which_token_adds_a_table(survey, owner, scope, status):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert look(client, survey).status_code == status
    assert add(client, survey).status_code == status


def test_a_survey_is_not_reached_by_another_tank(client, owner, survey):
    survey.tank = make_tank(owner)
    assert add(client, survey).status_code == 404


def test_a_look_tells_what_would_be_added_and_which_lines_are_refused_and_why(client, survey):
    seen = look(client, survey).json()
    assert (seen["good"], seen["bad"], seen["problem"]) == (2, 1, "")
    assert [row["line"] for row in seen["readings"]] == [2, 4]
    assert seen["readings"][0]["x_cm"] == 10 and seen["readings"][1]["value_umol"] == 190
    [bad] = seen["refused"]
    assert (bad["number"], bad["text"]) == (3, "10,8,5,bright") and "not a number" in bad["problem"]
    assert [column["holds"] for column in seen["columns"]] == ["x", "y", "depth", "par"]
    assert seen["columns"][0]["first"] == "x"


def test_the_good_lines_are_added_and_the_bad_ones_named(client, survey):
    made = add(client, survey).json()
    assert values(survey) == [180.0, 190.0]
    assert (made["added"], made["reading_count"], made["version"], made["bad"]) == (2, 2, 1, 1)
    assert made["refused"][0]["number"] == 3


def test_a_table_of_no_reading_is_refused_with_why(client, survey):
    [said] = errors(add(client, survey, "x,y,depth,par\n1,1,1,bright"))["text"]
    assert "Line 2" in said and "not a number" in said


def test_an_empty_file_is_refused_at_the_file(client, survey):
    assert list(errors(add_file(client, survey, "a.csv", b""))) == ["file"]


def test_readings_are_added_to_what_was_saved_while_they_were_read(
    client, owner, survey, monkeypatch
):
    usual = ReadingTableViewSet.parsed

    def beside(view, form):
        rows = [ReadingRow(x_cm=5, y_cm=5, depth_cm=5, value_umol=50)]
        save_readings(survey=survey, rows=rows, expected_version=survey.version, by=owner)
        return usual(view, form)

    monkeypatch.setattr(ReadingTableViewSet, "parsed", beside)
    made = add(client, survey)
    assert made.status_code == 200, made.json()
    assert values(survey) == [50.0, 180.0, 190.0]
    assert (made.json()["reading_count"], made.json()["version"]) == (3, 2)


def test_readings_take_the_place_of_a_version_and_of_no_newer_one(client, survey):
    version = add(client, survey, "1,1,1,10").json()["version"]
    assert add(client, survey, "2,2,2,20", replaces=version).status_code == 200
    assert values(survey) == [20.0]
    assert add(client, survey, "3,3,3,30", replaces=version).status_code == 409
    assert values(survey) == [20.0]


def test_sent_twice_by_one_key_or_one_batch_it_is_added_once(client, survey):
    for _ in range(2):
        answer = add(client, survey, headers={"Idempotency-Key": "one"})
    assert answer["Idempotency-Replayed"] and values(survey) == [180.0, 190.0]
    batch = str(uuid.uuid4())
    for _ in range(2):
        answer = add(client, survey, "5,5,5,50", batch=batch)
    assert values(survey) == [180.0, 190.0, 50.0] and answer.json()["reading_count"] == 3


def test_one_key_with_another_table_is_refused(client, survey):
    add(client, survey, headers={"Idempotency-Key": "one"})
    refused = add(client, survey, "5,5,5,50", headers={"Idempotency-Key": "one"})
    assert refused.status_code == 422 and values(survey) == [180.0, 190.0]


# --- What must be said ------------------------------------------------------------------------
UNSURE = "a,b,c,d\n10,8,5,180\n20,8,5,190\n"
BY_HAND = {"column_x": 0, "column_y": 1, "column_depth": 2, "column_par": 3}


def test_columns_that_are_not_known_are_asked_for_and_then_taken_as_said(client, survey):
    seen = look(client, survey, UNSURE).json()
    assert "Say which is which" in seen["problem"] and seen["good"] == 0
    assert [column["first"] for column in seen["columns"]] == ["a", "b", "c", "d"]
    assert list(errors(add(client, survey, UNSURE))) == ["columns"]
    assert look(client, survey, UNSURE, **BY_HAND).json()["good"] == 2
    assert add(client, survey, UNSURE, **BY_HAND).status_code == 200
    assert rows_of(survey)[0].x_cm == 10 and values(survey) == [180.0, 190.0]


def test_a_part_of_the_columns_is_asked_to_be_the_whole(client, survey):
    [said] = errors(add(client, survey, UNSURE, column_x=0))["columns"]
    assert "par" in said and "depth" in said


DAYS = "date,x,y,depth,par\n2026-03-01,1,1,1,10\n2026-03-02,2,2,2,20\n2026-03-02,3,3,3,30\n"


def test_of_several_days_one_is_chosen(client, survey):
    seen = look(client, survey, DAYS).json()
    assert "2 days" in seen["problem"]
    assert seen["days"] == [
        {"day": "2026-03-01", "lines": 1}, {"day": "2026-03-02", "lines": 2}
    ]  # fmt: skip
    assert list(errors(add(client, survey, DAYS))) == ["day"]
    assert add(client, survey, DAYS, day="2026-03-02").status_code == 200
    assert values(survey) == [20.0, 30.0]


def test_the_unit_and_the_decimal_mark_are_as_said_and_not_the_keepers(client, owner, survey):
    owner.units = "in"
    owner.save()
    assert look(client, survey, "1,1,1,10").json()["readings"][0]["x_cm"] == 1
    assert look(client, survey, "1,1,1,10", unit="in").json()["readings"][0]["x_cm"] == 2.54
    text = "x;y;depth;par\n1,5;1;1;1.212\n"
    assert look(client, survey, text).json()["bad"] == 1
    [row] = look(client, survey, text, decimal_mark="comma").json()["readings"]
    assert (row["x_cm"], row["value_umol"]) == (1.5, 1212)


# --- Files ------------------------------------------------------------------------------------
ROWS = [["x", "y", "depth", "par"], [10, 8, 5, 180], [20, 8, 5, 190]]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.csv", TABLE.encode()),
        ("a.xlsx", xlsx_bytes(("Sheet", ROWS))),
        ("a.ods", ods_bytes(("Sheet", ROWS))),
    ],
    ids=["csv", "xlsx", "ods"],
)
def test_a_file_is_read_as_on_the_page(client, survey, name, data):
    made = add_file(client, survey, name, data)
    assert made.status_code == 200 and values(survey) == [180.0, 190.0]


def test_columns_of_a_file_are_said_beside_it(client, survey):
    assert list(errors(add_file(client, survey, "a.csv", UNSURE.encode()))) == ["columns"]
    assert add_file(client, survey, "a.csv", UNSURE.encode(), **BY_HAND).status_code == 200
    assert values(survey) == [180.0, 190.0]


@pytest.mark.parametrize(
    ("said", "field"),
    [({"mark": "."}, "mark"), ({"how": "add"}, "how"), ({"unit": "ft"}, "unit"),
     ({"text": ""}, "text"), ({"column_x": 99}, "column_x"), ({"version": 1}, "version"),
     ({"batch": "one"}, "batch"), ({"file": "x"}, "file"), ({"day": "noon"}, "day")],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, survey, said, field):
    assert list(errors(add(client, survey, **said))) == [field]


def test_what_is_no_table_and_what_is_too_many_readings_is_refused(client, survey):
    assert list(errors(add_file(client, survey, "a.csv", b"\x89PNG\r\n\x00\x00"))) == ["file"]
    text = "1,1,1,1\n" * (SURVEY_READINGS_MAX + 1)
    seen = look(client, survey, text).json()
    assert seen["good"] == SURVEY_READINGS_MAX + 1 == len(seen["readings"]) + 1
    assert f"{SURVEY_READINGS_MAX:,}" in errors(add(client, survey, text))["text"][0]
    assert values(survey) == []


# --- Undo -------------------------------------------------------------------------------------
def test_the_last_save_is_undone_and_undoing_again_brings_it_back(client, survey):
    add(client, survey, "1,1,1,10")
    version = add(client, survey, "2,2,2,20").json()["version"]
    back = client.post(at(survey, "undo"), {"version": version}, format="json")
    assert back.status_code == 200 and values(survey) == [10.0]
    assert [row["value_umol"] for row in back.json()["readings"]] == [10.0]
    client.post(at(survey, "undo"), {"version": back.json()["version"]}, format="json")
    assert values(survey) == [10.0, 20.0]


def test_no_newer_save_and_no_first_one_is_undone(client, survey):
    assert list(errors(client.post(at(survey, "undo"), {"version": 0}))) == ["version"]
    add(client, survey, "1,1,1,10")
    add(client, survey, "2,2,2,20")
    assert client.post(at(survey, "undo"), {"version": 1}).status_code == 409
    assert values(survey) == [10.0, 20.0]
    assert list(errors(client.post(at(survey, "undo"), {"version": 2, "how": 1}))) == ["how"]
