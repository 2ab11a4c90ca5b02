"""A disk that takes nothing in, clocks that jump, a database that goes away under entries.

Whatever was acknowledged is there once. A few of each here; `make soak` makes more (`FAULTS=`).
"""

import datetime as dt
import json
import os
import random
import resource
import shutil
import subprocess
import threading
import time
import uuid

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.urls import reverse

from apps.surveys.models import Reading
from tests.factories import make_survey, make_tank
from tests.hosting.postgres import Cluster, filled_like
from tests.ledger import Ledger, compare, enter_while
from tests.serving import ServedApp
from tests.test_served import Visitor

FAULTS = int(os.environ.get("FAULTS", "2"))
SEED = 20
# What a device hears while the host's machine takes nothing in: keep it, and come again.
UNSAVED = (503,)


class Fault(threading.Thread):
    """Breaks something and mends it, FAULTS times, with entries acknowledged between two."""

    def __init__(self, ledger, once):
        super().__init__(daemon=True)
        self.ledger, self.once, self.chance = ledger, once, random.Random(SEED)
        self.problem = None

    def run(self):
        try:
            for _ in range(FAULTS):
                heard = self.ledger.heard
                while self.ledger.heard < heard + 3:
                    time.sleep(0.01)
                time.sleep(self.chance.uniform(0, 0.3))
                self.once(self.chance)
        except Exception as problem:
            self.problem = problem


def enter_through(app, once):
    """Enter while a fault comes and goes; return the ledger and the tank."""
    ledger = Ledger()
    fault = Fault(ledger, once)
    fault.start()
    tank = enter_while(app, fault.is_alive, ledger, UNSAVED)
    assert fault.problem is None, fault.problem
    return ledger, tank


# --- A disk that takes nothing in -----------------------------------------------------------
def bound_files(app, size):
    """Let no file of the app's workers grow beyond so many bytes."""
    children = ["pgrep", "-P", str(app.process.pid)]
    workers = subprocess.run(children, capture_output=True, text=True).stdout.split()
    assert workers
    for worker in workers:
        _, most = resource.prlimit(int(worker), resource.RLIMIT_FSIZE)
        resource.prlimit(int(worker), resource.RLIMIT_FSIZE, (size, most))


def test_a_disk_that_takes_nothing_in_loses_and_doubles_nothing(
    transactional_db, served_app, settings
):
    settings.MEDIA_ROOT = served_app.photos
    # Where the database is a server of its own, its disk is another: only photos are refused.
    wanted = 1 if connection.vendor == "sqlite" else 0
    reader = Visitor(served_app, make_tank().owner)

    def close_disk(chance):
        refused = ledger.refused
        bound_files(served_app, 0)
        try:
            time.sleep(chance.uniform(0.2, 0.6))
            # What only reads goes on meanwhile.
            assert reader.ask("GET", reverse("tank_list"))[0] == 200
            until = time.monotonic() + 20
            while ledger.refused < refused + wanted and time.monotonic() < until:
                time.sleep(0.01)
        finally:
            bound_files(served_app, resource.RLIM_INFINITY)

    ledger = Ledger()
    fault = Fault(ledger, close_disk)
    fault.start()
    tank = enter_while(served_app, fault.is_alive, ledger, UNSAVED)
    assert fault.problem is None, fault.problem
    assert ledger.refused >= FAULTS * wanted
    compare(ledger, tank)


# --- Clocks that jump -----------------------------------------------------------------------
def test_clocks_that_jump_lose_and_double_nothing(db):
    """Each edit is sent twice, and the server's clock leaps by up to three years in between."""
    tank = make_tank()
    survey = make_survey(tank, readings=[])
    path, chance = reverse("survey_sync", args=[survey.pk]), random.Random(SEED)
    ledger, now = {}, dt.datetime.now(dt.UTC)
    for number in range(10 * FAULTS):
        mark, value = str(uuid.uuid4()), 50.0 + number % 200
        edit = {"id": str(uuid.uuid4()), "point": mark, "sequence": number + 1, "revision": 1,
                "x_cm": 10, "y_cm": 20, "depth_cm": 5, "value_umol": value,
                "spread_umol": None}  # fmt: skip
        body = json.dumps({"keeper": tank.owner_id, "device": "phone", "edits": [edit]})
        for _ in range(2):
            days = chance.choice([-1100, -61, -1, -0.01, 0.01, 1, 61, 1100])
            with time_machine.travel(now + dt.timedelta(days=days)):
                # A session of another time may be over: the device's keeper signs in again.
                client = Client()
                client.force_login(tank.owner)
                answer = client.post(path, body, "application/json")
                assert answer.status_code == 200, answer.content
                assert edit["id"] in answer.json()["accepted"]
        ledger[mark] = value
    stored = list(Reading.objects.values_list("client_id", "value_umol"))
    assert {str(mark): value for mark, value in stored} == ledger and len(stored) == len(ledger)


# --- A database that goes away --------------------------------------------------------------
@pytest.fixture
def own_cluster(transactional_db, tmp_path):
    """A PostgreSQL of the test's own, with the tables of the run's, that may be stopped."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no server that could go away.")
    stated = connection.settings_dict
    before = dict(stated)
    with Cluster() as cluster:
        filled_like(before["NAME"], "postgres", cluster.address)
        connection.close()
        stated.update(cluster.address)
        yield cluster
        connection.close()
        stated.update(before)


def test_a_database_that_goes_away_in_the_middle_of_writes(own_cluster, settings, tmp_path):
    app = ServedApp(tmp_path)
    settings.MEDIA_ROOT = app.photos
    try:
        ledger, tank = enter_through(app, lambda _: own_cluster.crash())
        connection.close()
        compare(ledger, tank)
    finally:
        app.close()
        shutil.rmtree(tmp_path / "static", ignore_errors=True)
