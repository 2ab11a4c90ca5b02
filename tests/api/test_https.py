"""Where a site asks for HTTPS, pages lead there and programs are refused."""

import pytest
from django.test import Client
from knox.models import AuthToken

from apps.tanks.models import Tank
from tests.test_environment import SERVED, manage


@pytest.fixture
def https(settings):
    settings.SECURE_SSL_REDIRECT = True


@pytest.fixture
def token(owner):
    return {"Authorization": f"Bearer {AuthToken.objects.create(owner)[1]}"}


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("path", ["/api/v1/tanks/", "/api/v1/nowhere/", "/api/v1/tanks"])
def test_a_call_without_it_is_refused_and_led_nowhere(https, tank, token, method, path):
    answer = getattr(Client(), method)(path, headers=token)
    assert (answer.status_code, answer.json()["code"]) == (403, "https_only")
    assert not answer.has_header("Location") and "no-store" in answer["Cache-Control"]
    assert answer["Content-Type"] == "application/problem+json" and Tank.objects.count() == 1


def test_a_call_by_it_is_answered(https, tank, token):
    assert Client().get("/api/v1/tanks/", headers=token, secure=True).status_code == 200


@pytest.mark.parametrize("path", ["/tanks/", "/api/v1/docs/"])
def test_pages_lead_there(https, db, path):
    assert Client().get(path)["Location"] == f"https://testserver{path}"


def test_a_site_without_it_answers_programs(tank, token):
    assert Client().get("/api/v1/tanks/", headers=token).status_code == 200


def test_a_served_site_is_set_so(tmp_path):
    asking = (
        "from django.test import Client\n"
        "host = {'host': 'reef.example.org'}\n"
        "print(*(Client().get(path, headers=host).status_code for path in"
        " ('/api/v1/tanks/', '/api/v1/docs/', '/tanks/')))\n"
    )
    done = manage("shell", "-v0", "-c", asking, tmp_path=tmp_path, **SERVED)
    assert done.stdout.split() == ["403", "301", "301"], done.stderr
