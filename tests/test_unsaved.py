"""What keeps a site from saving is told as that, to people and programs, whatever it breaks."""

import errno
import sqlite3

import psycopg
import pytest
from django.db import OperationalError
from django.test import Client

from reeflog.unsaved import Why, why_unsaved


def sqlite_error(code):
    problem = sqlite3.OperationalError("told by SQLite")
    problem.sqlite_errorcode = code
    return problem


def wrapped(inner):
    """Return Django's error around a driver's, as it reaches a view."""
    try:
        raise OperationalError("told by Django") from inner
    except OperationalError as problem:
        return problem


def postgres_error(state):
    problem = psycopg.OperationalError("told by PostgreSQL")
    problem.sqlstate = state
    return problem


@pytest.mark.parametrize(
    ("problem", "why"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), Why.FULL),
        (OSError(errno.EDQUOT, "Disk quota exceeded"), Why.FULL),
        (OSError(errno.EROFS, "Read-only file system"), Why.READ_ONLY),
        (wrapped(sqlite_error(sqlite3.SQLITE_FULL)), Why.FULL),
        # Its log can't grow: an extended code of SQLITE_IOERR.
        (wrapped(sqlite_error(sqlite3.SQLITE_IOERR_SHMSIZE)), Why.FULL),
        (wrapped(sqlite_error(sqlite3.SQLITE_READONLY_DBMOVED)), Why.READ_ONLY),
        (wrapped(postgres_error("53100")), Why.FULL),
        (wrapped(postgres_error("25006")), Why.READ_ONLY),
        (wrapped(postgres_error("57P01")), Why.NO_DATABASE),
        (wrapped(postgres_error("08006")), Why.NO_DATABASE),
        (wrapped(postgres_error(None)), Why.NO_DATABASE),
    ],
    ids=repr,
)
def test_what_keeps_a_site_from_saving_is_recognised(problem, why):
    assert why_unsaved(problem) == why


@pytest.mark.parametrize(
    "problem",
    [
        None,
        RuntimeError("on purpose"),
        OSError(errno.EACCES, "Permission denied"),
        wrapped(sqlite_error(sqlite3.SQLITE_BUSY)),
        wrapped(sqlite_error(sqlite3.SQLITE_CONSTRAINT)),
        wrapped(postgres_error("40P01")),
        psycopg.ProgrammingError("no code"),
    ],
    ids=repr,
)
def test_other_problems_are_our_mistakes(problem):
    assert why_unsaved(problem) is None


def test_a_circle_of_causes_ends():
    first, second = RuntimeError("a"), RuntimeError("b")
    first.__cause__, second.__cause__ = second, first
    assert why_unsaved(first) is None


@pytest.fixture
def full(settings):
    settings.ROOT_URLCONF = "tests.failing_urls"


def test_a_page_says_that_the_disk_is_full(db, full):
    answer = Client(raise_request_exception=False).get("/full/")
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert "disk" in answer.content.decode()


def test_a_program_gets_it_as_json(db, full):
    answer = Client(raise_request_exception=False).get("/api/full/")
    assert answer.status_code == 503 and "disk" in answer.json()["detail"]


def test_a_session_that_can_not_be_saved_is_told_alike(owner, full, monkeypatch):
    client = Client(raise_request_exception=False)
    client.force_login(owner)

    def no_room(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("django.contrib.sessions.backends.db.SessionStore.save", no_room)
    assert client.get("/session/").status_code == 503
