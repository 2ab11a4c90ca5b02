"""Which tests run once more on PostgreSQL (`tests/statements.py`)."""

from types import SimpleNamespace

import pytest
from django.db import IntegrityError, connection, connections

from apps.accounts.models import User
from apps.hosting.watching.slow_queries import timed
from tests.factories import make_user
from tests.paths import ROOT
from tests.statements import (
    Note,
    Noting,
    mark_of,
    more_matters,
    quickest,
    read_notes,
    worth_asking,
    write_note,
)


def item(name, place="surveys/test_a.py", fixtures=(), marks=()):
    return SimpleNamespace(
        nodeid=name, path=ROOT / "tests" / place, fixturenames=fixtures, cls=None,
        iter_markers=lambda _: iter(marks),
    )  # fmt: skip


def noted(folder, *notes):
    """Return a folder in which two workers noted something."""
    for number, note in enumerate(notes):
        write_note(folder / f"gw{number % 2}.jsonl", Note(*note))
    return folder


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("id IN (%s, %s) LIMIT 21", "id IN (%s) LIMIT 1", True),
        ("VALUES (%s, %s), (%s, %s)", "VALUES (%s, %s)", True),
        ("WHERE a = %s", "WHERE b = %s", False),
        ("SELECT a FROM t1", "SELECT a FROM t2", False),
    ],
)
def test_statements_that_differ_in_how_much_they_are_given_are_one(one, other, alike):
    assert (mark_of(one) == mark_of(other)) is alike


def test_each_statement_is_made_by_the_quickest_test_that_makes_it():
    notes = [Note("slow", 3.0, ["a", "b"], False), Note("quick", 0.2, ["b"], False),
             Note("idle", 0.0, [], False), Note("later", 0.24, ["b"], False)]  # fmt: skip
    # Of two that take as long, the first by name.
    assert quickest(notes) == {"slow", "later"}


def test_what_repeats_others_is_left_out(tmp_path):
    folder = noted(tmp_path, ("first", 1, "a", False), ("repeats", 1, "a", False),
                   ("refused", 1, "a", True), ("asks nothing", 1, "", False))  # fmt: skip
    names = ["first", "repeats", "refused", "asks nothing", "new"]
    kept = {one.nodeid for one in worth_asking([item(name) for name in names], folder)}
    assert kept == {"first", "refused", "new"}


def test_a_statement_of_a_test_left_out_anyway_is_made_by_another(tmp_path):
    folder = noted(tmp_path, ("first", 1, "a", False), ("second", 1, "a", False))
    assert [one.nodeid for one in worth_asking([item("second")], folder)] == ["second"]


@pytest.mark.parametrize(
    ("asked", "matters"),
    [
        ({}, False),
        ({"place": "hosting/test_backup.py"}, True),
        ({"fixtures": ("transactional_db",)}, True),
        ({"marks": [SimpleNamespace(kwargs={"transaction": True})]}, True),
        ({"marks": [SimpleNamespace(kwargs={})]}, False),
    ],
)
def test_where_more_matters_than_statements_all_run(asked, matters):
    assert more_matters(item("one", **asked)) is matters


def test_what_a_test_asks_is_noted(tmp_path, db):
    noting = Noting(tmp_path)
    run = noting.pytest_runtest_protocol(item("asking"))
    next(run)
    make_user(email="a@example.org")
    with pytest.raises(IntegrityError):
        make_user(email="a@example.org")
    with pytest.raises(StopIteration):
        run.send(None)
    note = read_notes(tmp_path)["asking"]
    assert note.refused and len(note.statements) == 1
    assert noting.note not in connection.execute_wrappers


def test_what_watches_a_connection_made_within_a_test_stays(tmp_path, monkeypatch):
    monkeypatch.setattr(connections["default"], "execute_wrappers", [])
    run = Noting(tmp_path).pytest_runtest_protocol(item("connects"))
    next(run)
    connection.execute_wrappers.append(timed)
    with pytest.raises(StopIteration):
        run.send(None)
    assert connection.execute_wrappers == [timed]


def test_what_was_skipped_is_not_noted(tmp_path):
    noting = Noting(tmp_path)
    run = noting.pytest_runtest_protocol(item("skipped"))
    next(run)
    noting.pytest_runtest_logreport(SimpleNamespace(skipped=True))
    with pytest.raises(StopIteration):
        run.send(None)
    assert read_notes(tmp_path) == {}


def test_a_place_that_locks_rows_is_noted_though_sqlite_is_told_nothing_of_it(db, tmp_path):
    noting, user = Noting(tmp_path), make_user()
    run = noting.pytest_runtest_protocol(item("locks"))
    next(run)
    plain = User.objects.filter(pk=user.pk)
    assert [row.pk for row in plain] == [user.pk]
    statements = set(noting.made)
    assert [row.pk for row in plain.select_for_update()] == [user.pk]
    # PostgreSQL's own statement says so, too.
    assert len(noting.made - statements) == (1 if connection.vendor == "sqlite" else 2)
    with pytest.raises(StopIteration):
        run.send(None)
