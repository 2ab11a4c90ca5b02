"""Importing: preview, fix in place, import what is good, keep the rest."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from apps.surveys.recording import rows_of
from tests.factories import make_survey

TABLE = "x,y,depth,par\n10,8,5,180\n10,8,5,bright\n20,8,5,190\n"


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def url(survey):
    return reverse("survey_import", args=[survey.pk])


def send(client, survey, text="", **more):
    return client.post(url(survey), {"text": text, "unit": "cm", "how": "add", **more})


def values(survey):
    return [row.value_umol for row in rows_of(survey)]


def fields_on(response):
    """Return what the preview would send: its text areas and its batch."""
    page = response.content.decode()
    areas = dict(re.findall(r'<textarea[^>]*name="(\w+)"[^>]*>\n(.*?)</textarea>', page, re.S))
    return areas | dict(re.findall(r'name="(batch|version)" value="([^"]*)"', page))


def test_preview_saves_nothing_and_names_the_bad_line(client, survey):
    response = send(client, survey, TABLE)
    page = response.content.decode()
    assert response.status_code == 200 and values(survey) == []
    assert 'data-good="2" data-bad="1"' in page
    assert "Line 3" in page and "10,8,5,bright" in page and "is not a number" in page


def test_good_lines_are_imported_and_the_bad_stay_to_fix(client, survey):
    sent = fields_on(send(client, survey, TABLE))
    page = send(client, survey, **sent, **{"import": "1"}).content.decode()
    assert values(survey) == [180.0, 190.0]
    assert "Imported 2 readings" in page and "x,y,depth,par\n10,8,5,bright" in page


def test_bad_line_fixed_in_place_is_imported_with_the_rest(client, survey):
    sent = fields_on(send(client, survey, TABLE))
    sent["bad"] = "30,8,5,200"
    sent = fields_on(send(client, survey, **sent))
    assert "bad" not in sent
    response = send(client, survey, **sent, **{"import": "1"})
    assert response.status_code == 303 and values(survey) == [180.0, 190.0, 200.0]


def test_lines_are_numbered_as_in_the_box_they_are_fixed_in(client, survey):
    sent = fields_on(send(client, survey, TABLE))
    sent["bad"] = "30,8,5,200\n30,8,5,dim"
    assert "Line 2" in send(client, survey, **sent).content.decode()


def test_double_tap_imports_once(client, survey):
    sent = fields_on(send(client, survey, "10,8,5,180\n10,8,5,180")) | {"import": "1"}
    send(client, survey, **sent)
    send(client, survey, **sent)
    assert values(survey) == [180.0, 180.0]


def test_readings_are_added_or_replaced_as_chosen(client, survey):
    for text, how, wanted in [
        ("1,1,1,10", "add", [10.0]),
        ("2,2,2,20", "add", [10.0, 20.0]),
        ("3,3,3,30", "replace", [30.0]),
    ]:
        sent = fields_on(send(client, survey, text))
        send(client, survey, **sent, **{"how": how, "import": "1"})
        assert values(survey) == wanted


def test_replacing_what_was_saved_meanwhile_asks_again(client, survey):
    sent = fields_on(send(client, survey, "3,3,3,30")) | {"how": "replace", "import": "1"}
    send(client, survey, **fields_on(send(client, survey, "1,1,1,10")), **{"import": "1"})
    refused = send(client, survey, **sent)
    assert refused.status_code == 409 and values(survey) == [10.0]
    again = sent | fields_on(refused)
    assert send(client, survey, **again).status_code == 303 and values(survey) == [30.0]


def test_unit_without_a_heading_is_the_chosen_one(client, survey):
    sent = fields_on(send(client, survey, "10,8,5,180", unit="in")) | {"unit": "in"}
    send(client, survey, **sent, **{"import": "1"})
    assert rows_of(survey)[0].x_cm == 25.4


def test_file_is_read(client, survey):
    file = SimpleUploadedFile("a.csv", "x;y;depth;par\n10;8;5;12,5".encode("utf-16"))
    assert 'data-good="1"' in send(client, survey, file=file).content.decode()


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not text"),
        (b"1" * 2_000_001, "2 MB"),
        (b"10,10,10,100\n" * 50_000, "20,000 lines"),
    ],
    ids=["binary", "too large", "too long"],
)
def test_refused_file_is_told_and_the_pasted_text_kept(client, survey, data, problem):
    response = send(client, survey, "1,2,3,4", file=SimpleUploadedFile("a.csv", data))
    page = response.content.decode()
    assert response.status_code == 422 and problem in page and "1,2,3,4</textarea>" in page


def test_header_lacking_a_column_is_told_and_all_is_kept(client, survey):
    response = send(client, survey, "x,y,par\n1,2,3")
    page = response.content.decode()
    (problem,) = response.context["problems"]
    assert response.status_code == 422 and "depth" in problem and problem in page
    assert "x,y,par\n1,2,3</textarea>" in page


def test_more_than_a_survey_holds_is_told_and_not_offered(client, survey):
    response = send(client, survey, "1,1,1,1\n" * 1001)
    assert b"readings at most" in response.content and b'name="import"' not in response.content
    sent = fields_on(response) | {"import": "1"}
    assert send(client, survey, **sent).status_code == 422 and values(survey) == []


def test_exported_file_imports_as_the_same_readings(client, tank, survey):
    other = make_survey(tank)
    file = client.get(reverse("survey_export", args=[other.pk])).content.decode()
    send(client, survey, **fields_on(send(client, survey, file)), **{"import": "1"})
    facts = [(r.x_cm, r.y_cm, r.depth_cm, r.value_umol) for r in rows_of(other)]
    assert [(r.x_cm, r.y_cm, r.depth_cm, r.value_umol) for r in rows_of(survey)] == facts


def test_co_keeper_imports(as_user, co_keeper, survey):
    send(as_user(co_keeper), survey, "10,8,5,180", **{"import": "1"})
    assert values(survey) == [180.0]


@given(
    text=st.text(max_size=80),
    bad=st.text(max_size=40),
    data=st.binary(max_size=60),
    odd=st.text(max_size=8),
)
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_anything_sent_is_answered(client, survey, text, bad, data, odd):
    sent = {"text": text, "bad": bad, "version": odd, "batch": odd, "import": "1"}
    sent |= {"unit": "cm", "how": "replace", "file": SimpleUploadedFile("a", data)}
    assert client.post(url(survey), sent).status_code in (200, 303, 409, 422)


def test_another_table_sent_with_an_old_batch_replaces_nothing(client, survey):
    first = fields_on(send(client, survey, "x,y,depth,par\n10,8,5,180"))
    send(client, survey, **first, **{"import": "1"})
    other = first | {"text": "x,y,depth,par\n20,9,6,150"}
    send(client, survey, **other, **{"import": "1"})
    assert values(survey) == [180.0, 150.0]


def test_preview_shows_what_was_read_and_rounds_nothing(client, survey):
    page = " ".join(
        send(client, survey, "x,y,depth,par,spread\n10.25,8.125,5,468.55,12.5")
        .content.decode()
        .split()
    )
    for text in ("10.25", "8.125", "468.55", "12.5"):
        assert f'<td class="number">{text}</td>' in page


def chosen_columns(response):
    """Return what each select of the column choice shows as chosen: {index: column}."""
    page = " ".join(response.content.decode().split())
    selects = re.findall(r'name="column(\d+)">(.*?)</select>', page, re.S)
    chosen = ((int(at), re.search(r'value="(\w+)" selected', inner)) for at, inner in selects)
    return {at: match and match[1] for at, match in chosen}


def test_columns_are_offered_when_no_line_reads(client, survey):
    response = send(client, survey, "x,y,depth,par,light\n10,8,5,a,180\n20,8,5,b,190")
    assert b'name="import"' not in response.content
    assert b'<details class="grid-aid" open>' in response.content
    assert chosen_columns(response) == {0: "x", 1: "y", 2: "depth", 3: "par", 4: None}
    match = {"column0": "x", "column1": "y", "column2": "depth", "column4": "par"}
    sent = fields_on(response) | match
    send(client, survey, **sent, **{"import": "1"})
    assert values(survey) == [180.0, 190.0]


def test_two_columns_that_could_be_par_are_left_to_choose(client, survey):
    response = send(client, survey, "x,y,depth,PAR,PAR\n10,8,5,180,190")
    assert response.status_code == 422
    assert chosen_columns(response) == {0: "x", 1: "y", 2: "depth", 3: None, 4: None}


def test_a_number_read_two_ways_is_settled_by_the_choice(client, survey):
    sent = fields_on(send(client, survey, "x;y;depth;par\n30,5;8;5;468,5\n10;8;5;1.212"))
    assert "1.212" in sent["bad"]
    send(client, survey, **sent, **{"mark": ",", "import": "1"})
    assert values(survey) == [468.5, 1212.0]
