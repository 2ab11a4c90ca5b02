"""Workers killed at random moments: nothing that was acknowledged is lost, nothing stands twice.

A few kills here; `make soak` sends two hundred. The ledger is kept outside of the server.
"""

import contextlib
import datetime as dt
import os
import random
import signal
import subprocess
import threading
import time

import pytest
import time_machine
from django.core.management import call_command
from django.utils import timezone

from tests.ledger import Ledger, compare, enter_while

KILLS = int(os.environ.get("KILLS", "2"))
SEED = 20


class Killer(threading.Thread):
    """Kills a worker of the served app at random moments until KILLS of them are."""

    def __init__(self, app, ledger, chance):
        super().__init__(daemon=True)
        self.app, self.ledger, self.chance = app, ledger, chance
        self.over = threading.Event()
        self.kills = 0

    def run(self):
        while self.kills < KILLS:
            time.sleep(self.chance.uniform(0.02, 1.2))
            # A server that is killed faster than it starts acknowledges nothing at all.
            heard = self.ledger.heard
            self.kill_one()
            while self.ledger.heard == heard and not self.over.is_set():
                time.sleep(0.02)

    def kill_one(self):
        """Kill one of the workers; one that is just ending is left to it."""
        children = subprocess.run(
            ["pgrep", "-P", str(self.app.process.pid)], capture_output=True, text=True
        ).stdout.split()
        if children:
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(self.chance.choice(children)), signal.SIGKILL)
                self.kills += 1


def sweep_photos():
    """What the next night's chores do with files that no note names."""
    with time_machine.travel(timezone.now() + dt.timedelta(days=1)):
        call_command("check_photos", remove=True, verbosity=0)


@pytest.fixture
def entered(transactional_db, served_app, settings):
    """Entries sent to the served app while its workers were killed: the ledger and the tank."""
    settings.MEDIA_ROOT = served_app.photos
    # The served app is shared: files of tests before, whose notes were flushed, are not this one's.
    sweep_photos()
    ledger = Ledger()
    killer = Killer(served_app, ledger, random.Random(SEED))
    killer.start()
    tank = enter_while(served_app, killer.is_alive, ledger)
    killer.over.set()
    killer.join(timeout=5)
    served_app.wait()
    return killer.kills, ledger, tank


def test_killed_workers_lose_and_double_nothing(entered):
    kills, ledger, tank = entered
    assert kills >= KILLS
    left = compare(ledger, tank)
    print(f"{kills} kills")
    # A file is written before its note: what a kill came between goes with the next night's chores.
    sweep_photos()
    assert compare(ledger, tank) == () and len(left) <= 2 * kills
