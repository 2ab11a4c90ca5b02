"""What a host sees: marks, slow pages and queries, readiness, and nobody's data."""

import json
import logging

import pytest
from django.core.files.storage import InMemoryStorage
from django.db import DatabaseError, connection
from django.test import RequestFactory
from django.urls import reverse

from apps.hosting.watching import log_lines, readiness, slow_queries, views
from apps.hosting.watching.request_mark import HEADER
from tests.factories import make_tank


@pytest.fixture
def fresh(monkeypatch):
    """Ask for readiness anew."""
    monkeypatch.setattr(views, "readiness", readiness.Readiness())


@pytest.fixture
def lines(caplog):
    """Return a function that gives what stands in the log, read back from JSON."""
    caplog.set_level(logging.INFO, logger="reeflog.requests")
    form, routes = log_lines.LogLines(), log_lines.RouteForPath()

    def read(logger=""):
        records = [r for r in caplog.records if r.name.startswith(logger) and routes.filter(r)]
        return [json.loads(form.format(record)) for record in records]

    return read


# --- Requests -------------------------------------------------------------------------------
def test_a_request_is_logged_by_route_status_and_time(client, tank, lines):
    client.get(reverse("tank_detail", args=[tank.pk]))
    line = next(one for one in lines("reeflog.requests"))
    assert (line["route"], line["status"], line["method"]) == ("tanks/<int:tank_pk>/", 302, "GET")
    assert line["ms"] >= 0 and line["level"] == "INFO"


def test_each_answer_bears_a_mark_of_its_own(client, db):
    marks = {client.get("/")[HEADER] for _ in range(2)}
    assert len(marks) == 2 and all(len(mark) == 16 for mark in marks)


def test_a_proxys_own_mark_is_taken_over_when_it_is_one(client, db):
    assert client.get("/", headers={HEADER: "abc-123-def"})[HEADER] == "abc-123-def"
    assert client.get("/", headers={HEADER: 'x" y\n'})[HEADER] != 'x" y\n'


def test_a_line_written_amid_a_request_bears_its_mark(client, db, lines):
    mark = client.get("/nothing-here/")[HEADER]
    assert {line["request_id"] for line in lines("reeflog.requests")} == {mark}


def test_a_slow_page_is_a_warning(client, db, lines, settings):
    settings.SLOW_PAGE_MS = 1
    client.get("/glossary/")
    (line,) = lines("reeflog.requests")
    assert (line["level"], line["message"]) == ("WARNING", "Slow page")


def test_a_slow_query_is_logged_without_its_values(db, lines, settings):
    settings.SLOW_QUERY_MS = 1
    secret = "somebody-rather-secret"
    delay = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM n WHERE x < 200000)"
    with connection.cursor() as cursor:
        cursor.execute(f"{delay} SELECT COUNT(*) FROM n WHERE CAST(x AS TEXT) <> %s", [secret])
    (line,) = lines("reeflog.queries")
    assert "RECURSIVE" in line["sql"] and line["ms"] >= 1 and secret not in str(line)


@pytest.mark.parametrize(("limit_ms", "is_watched"), [(500, True), (0, False)])
def test_a_new_connection_is_watched_when_asked(settings, limit_ms, is_watched):
    settings.SLOW_QUERY_MS = limit_ms
    made = type("Connection", (), {"execute_wrappers": []})()
    slow_queries.watch(connection=made)
    slow_queries.watch(connection=made)
    assert made.execute_wrappers == ([slow_queries.timed] if is_watched else [])


# --- Nobody's data --------------------------------------------------------------------------
SECRET = "Zk3vUq0bXo9mT2yR8wL5aN7cE1dG4hJ6fP_sQ-iVtKxM"


@pytest.mark.parametrize(
    ("text", "hidden"),
    [
        ("Key (email)=(nele@example.org) already exists", "nele@example.org"),
        ("refused from 203.0.113.77 again", "203.0.113.77"),
        ("refused from 2001:db8:1:2:aaaa:bbbb:1:9", "bbbb"),
        (f"/s/{SECRET}/ is gone", SECRET),
    ],
)
def test_personal_data_in_what_others_log_is_hidden(text, hidden):
    record = logging.LogRecord("x", logging.ERROR, "", 0, text, None, None)
    assert hidden not in log_lines.LogLines().format(record)


@pytest.mark.parametrize("text", ["took 12:30:45", "Django 5.2.19 on 3.11.7", "a.b@c", "x::y"])
def test_plain_words_stay(text):
    assert log_lines.without_persons(text) == text


def test_a_traceback_is_cleaned_too():
    try:
        raise DatabaseError("duplicate nele@example.org")
    except DatabaseError as problem:
        stated = (type(problem), problem, problem.__traceback__)
    record = logging.LogRecord("x", logging.ERROR, "", 0, "broke", None, stated)
    line = json.loads(log_lines.LogLines().format(record))
    assert "duplicate (e-mail)" in line["exc_info"]


def test_what_breaks_at_a_secret_address_is_logged_by_its_route():
    request = RequestFactory().get(f"/s/{SECRET}/")
    record = logging.LogRecord(
        "django.request", logging.ERROR, "", 0, "%s: %s", ("Broke", request.path), None
    )
    record.request = request
    log_lines.RouteForPath().filter(record)
    line = log_lines.LogLines().format(record)
    assert SECRET not in line and "<str:token>" in line and "WSGIRequest" not in line


# --- Health and readiness -------------------------------------------------------------------
def test_health_asks_nothing(client, django_assert_num_queries, db, settings):
    settings.SECURE_SSL_REDIRECT = True
    with django_assert_num_queries(0):
        answer = client.get("/health/", headers={"host": "10.0.0.7"})
    assert (answer.status_code, answer.content) == (200, b"ok\n")
    assert "no-store" in answer["Cache-Control"]


def test_ready_when_all_is_there(client, db, fresh, settings, tmp_path, monkeypatch):
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(readiness, "pending_migrations", lambda: 0)
    answer = client.get("/ready/")
    assert answer.status_code == 200
    assert answer.json() == dict.fromkeys(["database", "storage", "migrations"], "ok")


def broken(*_):
    raise DatabaseError("connection to 10.1.2.3 lost")


@pytest.mark.parametrize(
    ("check", "answer", "name"),
    [
        ("database_answers", broken, "database"),
        ("storage_answers", lambda: False, "storage"),
        ("pending_migrations", lambda: 2, "migrations"),
        ("pending_migrations", broken, "migrations"),
    ],
)
def test_not_ready_says_what_is_not(client, db, fresh, monkeypatch, check, answer, name):
    monkeypatch.setattr(readiness, "pending_migrations", lambda: 0)
    monkeypatch.setattr(readiness, check, answer)
    told = client.get("/ready/")
    assert (
        told.status_code == 503 and told.json()[name] == "not ready" and b"10.1" not in told.content
    )


def test_who_asks_often_hears_the_same_and_costs_nothing(
    client, db, fresh, settings, tmp_path, monkeypatch, django_assert_num_queries
):
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(readiness, "pending_migrations", lambda: 0)
    client.get("/ready/")
    with django_assert_num_queries(0):
        assert client.get("/ready/").status_code == 200


def test_a_bucket_is_asked(monkeypatch):
    asked = []
    bucket = InMemoryStorage()
    bucket.exists = lambda name: asked.append(name)
    monkeypatch.setattr(readiness, "default_storage", bucket)
    assert readiness.storage_answers() and len(asked) == 1


# --- Metrics --------------------------------------------------------------------------------
TOKEN = "a-token-for-prometheus"


def read_metrics(client, token=TOKEN):
    return client.get("/metrics/", headers={"authorization": f"Bearer {token}"})


def test_without_a_token_there_is_no_such_page(client, db):
    assert read_metrics(client).status_code == 404


@pytest.mark.parametrize("token", ["", "wrong", TOKEN + "x", "é"])
def test_metrics_are_for_whoever_has_the_token(client, db, settings, token):
    settings.METRICS_TOKEN = TOKEN
    assert read_metrics(client, token).status_code == 401


def test_metrics_count_requests_and_what_the_site_holds(client, settings, tmp_path, db):
    settings.METRICS_TOKEN, settings.DATA_DIR = TOKEN, tmp_path
    make_tank()
    client.get("/glossary/")
    client.generic("MADE-UP", "/glossary/")
    text = read_metrics(client).content.decode()
    assert 'reeflog_jobs{state="waiting"} 0.0' in text
    assert "reeflog_tanks 1.0" in text and "reeflog_disk_free_bytes" in text
    assert 'count{method="GET",route="glossary/",status="2xx"} 1.0' in text
    assert 'method="other"' in text and "MADE-UP" not in text
