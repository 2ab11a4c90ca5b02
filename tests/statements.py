"""Which tests are asked once more on PostgreSQL: those in which the database can matter.

Where `STATEMENTS` names a folder, a run on SQLite notes there what each test asks of the database,
and a run on PostgreSQL leaves out whatever only repeats what others ask there. It runs

- of each statement that any test makes, and of each place that locks rows, which leaves no trace
  in the text that SQLite gets, the quickest test that makes it,
- each test to which the database said no, which has transactions of its own or a served app,
- each test of `WHOLE`, where more matters than what single statements answer,
- each test of which nothing was noted: new, or skipped on SQLite.
"""

import hashlib
import json
import os
import re
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest
from django.db import connection
from django.db.models import QuerySet
from django.db.utils import Error
from django.test import TransactionTestCase

from tests.paths import ROOT

FOLDER = os.environ.get("STATEMENTS")
# Migrations, backups and pools; locks and jobs; triggers and the journal; rows in and out by file;
# what is sent twice. What hangs on values, too: PostgreSQL refuses NUL, numbers and texts too long
# for their column, and compares letters in its own way, all under statements that look alike.
WHOLE = tuple(
    ROOT / "tests" / place
    for place in (
        "hosting", "later", "tanks/kept_pages", "transfer", "common", "api/test_changes.py",
        "test_migrations.py", "test_runs.py", "test_faults.py", "test_kills.py",
        "api/test_hostile_values.py", "api/test_rows.py", "api/test_strictness.py",
        "api/test_generated_cases.py", "test_search.py", "test_import_files.py", "test_dates.py",
        "test_spreadsheet_files.py", "surveys/tables", "corals/history",
    )
)  # fmt: skip
SAVEPOINT = ("SAVEPOINT", "RELEASE", "ROLLBACK")
# However many values a list has, and whatever number stands in it: one statement.
VALUES = re.compile(r"\(%s(, %s)*\)(, \(%s(, %s)*\))*")
NUMBER = re.compile(r"\b\d+\b")


@dataclass(frozen=True)
class Note:
    """What a test asked of the database, for how long it ran, and whether it was refused."""

    test: str
    seconds: float
    statements: list[str]
    refused: bool


class Noting:
    """Writes a note of each test that ran, a line each, a file for each worker."""

    def __init__(self, folder):
        folder.mkdir(parents=True, exist_ok=True)
        worker = os.environ.get("PYTEST_XDIST_WORKER", "only")
        # Whole, since a test may go to another folder.
        self.path = folder.resolve() / f"{worker}.jsonl"
        self.marks, self.made, self.refused, self.ran = {}, set(), False, False

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.made, self.refused, self.ran = set(), False, True
        begun = time.perf_counter()
        lock = QuerySet.select_for_update

        def noted(rows, *args, **kwargs):
            self.made.add(mark_of(f"lock {place_in_code()}"))
            return lock(rows, *args, **kwargs)

        # Taken out by its name: Django's own `execute_wrapper` takes out whichever came last, and a
        # connection that is made within the test adds what times its queries.
        wrappers = connection.execute_wrappers
        wrappers.append(self.note)
        try:
            with mock.patch.object(QuerySet, "select_for_update", noted):
                result = yield
        finally:
            wrappers.remove(self.note)
        if self.ran:
            seconds = round(time.perf_counter() - begun, 3)
            write_note(self.path, Note(item.nodeid, seconds, sorted(self.made), self.refused))
        return result

    def pytest_runtest_logreport(self, report):
        self.ran = self.ran and not report.skipped

    def note(self, execute, sql, params, many, context):
        sql = str(sql)
        if not sql.startswith(SAVEPOINT):
            if sql not in self.marks:
                self.marks[sql] = mark_of(sql)
            self.made.add(self.marks[sql])
        try:
            return execute(sql, params, many, context)
        except Error:
            self.refused = True
            raise


def place_in_code():
    """Return the function of ours that called, by file and name."""
    frame = sys._getframe(1)
    while frame.f_back and not frame.f_code.co_filename.startswith(str(ROOT / "apps")):
        frame = frame.f_back
    return f"{frame.f_code.co_filename} {frame.f_code.co_qualname}"


def mark_of(sql):
    """Return a short mark, the same for statements that differ in how much they are given."""
    plain = NUMBER.sub("0", VALUES.sub("(%s)", sql))
    return hashlib.sha256(plain.encode()).hexdigest()[:12]


def write_note(path, note):
    with path.open("a") as file:
        file.write(json.dumps(vars(note)) + "\n")


def read_notes(folder):
    """Return {test: its Note} of all workers' files."""
    lines = (line for path in sorted(folder.glob("*.jsonl")) for line in path.open())
    notes = (Note(**json.loads(line)) for line in lines)
    return {note.test: note for note in notes}


def quickest(notes):
    """Return the tests that make each statement in the least time, to a tenth of a second."""
    first = {}
    for note in notes:
        rank = round(note.seconds, 1), note.test
        for mark in note.statements:
            first[mark] = min(first.get(mark, rank), rank)
    return {test for _, test in first.values()}


def worth_asking(items, folder):
    """Return the items that are to run on PostgreSQL, of those that may touch rows at all."""
    notes = read_notes(folder)
    known = [notes[item.nodeid] for item in items if item.nodeid in notes]
    chosen = quickest(known) | {note.test for note in known if note.refused}
    return [
        item
        for item in items
        if item.nodeid in chosen or item.nodeid not in notes or more_matters(item)
    ]


def more_matters(item):
    """Tell whether a test asks for more than single statements: by where it lies, or for what."""
    return (
        any(item.path.is_relative_to(place) for place in WHOLE)
        or bool({"transactional_db", "served_app"} & set(item.fixturenames))
        or any(mark.kwargs.get("transaction") for mark in item.iter_markers("django_db"))
        or issubclass(item.cls or object, TransactionTestCase)
    )


def begin_noting(config):
    """On SQLite, where a folder for it is named."""
    if FOLDER and connection.vendor == "sqlite":
        config.pluginmanager.register(Noting(Path(FOLDER)))
