"""A sheet of several afternoons: asked which is meant, and only that one's lines are read."""

import datetime as dt

import pytest
from django.urls import reverse

from apps.surveys.recording import rows_of
from apps.surveys.tables.survey_days import days_of, only_day
from tests.factories import make_survey

TEXT = (
    "date;x;y;depth;PAR\n1/3/2026;10;8;5;180\n1/3/2026;20;8;5;190\n\n14/3/2026;10;8;5;200\n"
    "14/3/2026;20;8;5;bright\n"
)
FIRST, SECOND = dt.date(2026, 3, 1), dt.date(2026, 3, 14)


def send(client, survey, text=TEXT, **more):
    address = reverse("survey_import", args=[survey.pk])
    return client.post(address, {"text": text, "unit": "cm", "how": "add", **more})


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def test_the_days_of_a_table_and_their_lines():
    assert days_of(TEXT) == {FIRST: 2, SECOND: 2}
    assert days_of("x;y;depth;PAR\n10;8;5;180\n") == {}


def test_lines_of_other_days_are_blank_and_keep_the_numbers():
    kept = only_day(TEXT, SECOND).split("\n")
    assert [n for n, line in enumerate(kept, 1) if line] == [1, 5, 6]


def test_several_days_are_asked_about_and_nothing_is_lost(client, survey):
    response = send(client, survey)
    page = response.content.decode()
    assert response.status_code == 422 and page.count('name="day"') == 2
    assert "14/3/2026;10;8;5;200" in page and not rows_of(survey)


def test_the_day_chosen_is_read_alone(client, survey):
    page = send(client, survey, day="2026-03-14").content.decode()
    assert 'data-good="1" data-bad="1"' in page and "Line 6" in page
    send(client, survey, "date;x;y;depth;PAR\n14/3/2026;10;8;5;200", **{"import": "1"})
    assert [row.value_umol for row in rows_of(survey)] == [200.0]


def test_one_day_is_not_asked_about(client, survey):
    page = send(client, survey, TEXT.split("\n\n")[0]).content.decode()
    assert 'name="day"' not in page and 'data-good="2"' in page
