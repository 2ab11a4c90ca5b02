"""What every answer tells the browser, whatever it is."""

import pytest
from django.test import Client
from django.urls import reverse

PATHS = ["/", "/tanks/", "/nowhere/", "/api/v1/tanks/", "/robots.txt", "/accounts/login/"]


@pytest.fixture
def answers(as_user, owner):
    return {path: as_user(owner).get(path, follow=True) for path in PATHS}


def test_no_answer_is_taken_for_what_it_is_not(answers):
    assert {one["X-Content-Type-Options"] for one in answers.values()} == {"nosniff"}
    texts = [one["Content-Type"] for one in answers.values() if one["Content-Type"][:4] == "text"]
    assert len(texts) >= 4 and all("charset=utf-8" in text for text in texts)


def test_no_other_site_learns_where_one_was_or_frames_a_page(answers):
    for one in answers.values():
        assert one["Referrer-Policy"] == "same-origin"
        assert one["Cross-Origin-Opener-Policy"] == "same-origin"
        assert "frame-ancestors 'none'" in one["Content-Security-Policy"]


def test_no_other_site_may_read_an_answer(as_user, owner):
    other = {"origin": "https://evil.example"}
    for path in PATHS:
        assert not as_user(owner).get(path, headers=other).has_header("Access-Control-Allow-Origin")


def test_a_form_of_another_site_is_refused(owner):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    answer = client.post(reverse("settings_edit"), {"display_name": "Somebody"})
    owner.refresh_from_db()
    assert answer.status_code == 403 and owner.display_name == "Ottilie"


def test_trace_echoes_nothing(client, db):
    answer = client.trace("/", headers={"x-probe": "echo-of-a-header"})
    assert b"echo-of-a-header" not in answer.content


@pytest.mark.parametrize("path", ["/static/", "/static/css/", "/photos/"])
def test_no_folder_is_listed(client, db, path):
    assert client.get(path).status_code in (302, 404)
