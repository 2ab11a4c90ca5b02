"""What a site says of itself, and what browsers report to it."""

import json
import logging

import pytest
from django.core.cache import caches
from django.urls import reverse

from tests.hosting.test_watching import SECRET
from tests.test_environment import SERVED, manage


def test_security_txt_names_whom_the_host_named(client, settings):
    settings.CONTACT = "mailto:host@example.org"
    lines = client.get("/.well-known/security.txt").content.decode().splitlines()
    fields = dict(line.split(": ", 1) for line in lines)
    assert fields["Contact"] == "mailto:host@example.org" and fields["Expires"].endswith("Z")


def test_without_a_contact_there_is_no_security_txt(client, db):
    assert client.get("/.well-known/security.txt").status_code == 404


def test_robots_read_the_front_door_alone(client):
    lines = client.get("/robots.txt").content.decode().splitlines()
    assert lines[0] == "User-agent: *" and lines[-1] == "Disallow: /"


@pytest.mark.parametrize("contact", ["", "mailto:host@example.org"])
def test_the_privacy_page_says_whom_to_ask(client, db, settings, contact):
    settings.CONTACT = contact
    page = client.get(reverse("privacy")).content.decode()
    assert ("mailto:host@example.org" in page) is bool(contact)
    assert reverse("account_export") in page and reverse("account_delete") in page


@pytest.mark.parametrize("path", ["/", "/tanks/", "/accounts/login/"])
def test_a_hosts_word_stands_on_every_page(as_user, owner, settings, path):
    client = as_user(owner)
    assert 'id="maintenance"' not in client.get(path, follow=True).content.decode()
    settings.MAINTENANCE_MESSAGE = "Down on Sunday <at> 8."
    assert "Down on Sunday &lt;at&gt; 8." in client.get(path, follow=True).content.decode()


@pytest.mark.parametrize(
    ("setting", "named"),
    [
        ({"REEFLOG_ADMIN_PATH": "/admin"}, "REEFLOG_ADMIN_PATH"),
        ({"REEFLOG_CONTACT": "host@example.org"}, "REEFLOG_CONTACT"),
        ({"REEFLOG_PUSH_KEY": "a word"}, "REEFLOG_PUSH_KEY"),
    ],
)
def test_a_wrong_word_of_the_host_stops_the_start(tmp_path, setting, named):
    assert named in manage("check", tmp_path=tmp_path, **setting).stderr.splitlines()[-1]


def test_the_administration_moves_and_hsts_lasts_a_year_when_asked(tmp_path):
    asked = {
        "REEFLOG_ADMIN_PATH": "office/", "REEFLOG_HSTS_SECONDS": "31536000",
        "REEFLOG_HSTS_SUBDOMAINS": "on",
    }  # fmt: skip
    told = (
        "from django.test import Client\n"
        "from django.urls import reverse\n"
        "page = Client().get('/robots.txt', secure=True, headers={'host': 'reef.example.org'})\n"
        "print(reverse('admin:index'), page['Strict-Transport-Security'])\n"
    )
    done = manage("shell", "-v0", "-c", told, tmp_path=tmp_path, **SERVED | asked)
    assert done.stdout.strip().endswith("/office/ max-age=31536000; includeSubDomains"), done.stderr


# --- Reports of the page policy -------------------------------------------------------------
@pytest.fixture
def reports(caplog):
    caches["paces"].clear()
    caplog.set_level(logging.WARNING, logger="reeflog.policy")
    return lambda: [
        (said.rule, said.blocked, said.route)
        for said in caplog.records
        if said.name == "reeflog.policy"
    ]


def send(client, **changed):
    report = {
        "document-uri": f"https://reef.example.org/s/{SECRET}/?x=1",
        "effective-directive": "script-src",
        "blocked-uri": "https://evil.example/x.js?y",
    } | changed
    body = json.dumps({"csp-report": report})
    return client.post("/policy-reports/", body, content_type="application/csp-report")


def test_pages_ask_browsers_to_report(client, db):
    assert "report-uri /policy-reports/" in client.get("/")["Content-Security-Policy"]


def test_a_report_is_logged_by_route_without_secrets(client, reports, caplog):
    assert send(client).status_code == 204
    assert reports() == [("script-src", "https://evil.example", "s/<str:token>/")]
    assert SECRET not in caplog.text


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b'{"csp-report": 1}', b"\xff", b"[" * 7000, b"x" * 9000]
)
def test_what_is_no_report_is_not_logged(client, reports, body):
    answer = client.post("/policy-reports/", body, content_type="application/csp-report")
    assert answer.status_code == 204 and reports() == []


def test_what_is_long_is_cut(client, reports):
    send(client, **{"effective-directive": "s" * 3000})
    assert len(reports()[0][0]) == 100


def test_a_flood_of_reports_fills_no_log(client, reports):
    for _ in range(70):
        send(client)
    assert len(reports()) == 60


def test_nobody_looks_there(client, db):
    assert client.get("/policy-reports/").status_code == 405
