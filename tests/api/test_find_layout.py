"""Layouts over the API: a question posted with a token, the answers of the command back."""

import pytest
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.planning.layout_files.answers_json import find_layouts
from apps.planning.layout_files.question_json import question_of_data
from apps.planning.models import Plan
from tests.planning.layout_files.questions import QUESTION, with_fixture, with_zone

pytestmark = pytest.mark.one_database

AT = "/api/v1/find-layout/"


@pytest.fixture
def client(owner):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {AuthToken.objects.create(owner)[1]}")
    return client


def test_a_question_gets_the_answers_of_the_command(client):
    result = client.post(AT, QUESTION)
    assert result.status_code == 200
    assert result.json() == find_layouts(question_of_data(QUESTION).question)


def test_nothing_is_stored(client):
    client.post(AT, QUESTION)
    assert not Plan.objects.exists()


def test_without_a_token_nothing_is_searched():
    assert APIClient().post(AT, QUESTION).status_code == 401


@pytest.mark.parametrize(
    ("key", "data"),
    [
        ("beams_deg", with_fixture(beams_deg="wide")),
        ("low_umol", with_zone(low_umol=None)),
        ("tank", {}),
        ("question", [1]),
    ],
)
def test_a_bad_question_is_refused_by_its_key(client, key, data):
    result = client.post(AT, data)
    assert result.status_code == 400 and list(result.json()["errors"]) == [key]


def test_a_tank_cannot_name_a_file_of_the_server(client):
    lamp = {"photometric_file": "../../manage.py"}
    data = QUESTION | {"tank": QUESTION["tank"] | {"fixtures": [lamp]}}
    assert client.post(AT, data).json() == client.post(AT, QUESTION).json()
