"""Workers killed at random moments: nothing that was acknowledged is lost, nothing stands twice.

A few kills here; `make soak` sends two hundred. The ledger is kept outside of the server.
"""

import contextlib
import http.client
import json
import os
import random
import signal
import subprocess
import threading
import time
import uuid
from dataclasses import dataclass, field

import pytest
from django.conf import settings
from django.core.files.storage import FileSystemStorage
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote, Photo
from apps.corals.photo_files import check_files
from apps.surveys.models import Reading
from tests.corals.notes.test_round import note_of
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_survey, make_tank
from tests.test_served import Visitor

KILLS = int(os.environ.get("KILLS", "2"))
SEED = 20
# A photo comes with every eighth entry, and a survey is full after so many readings.
PHOTO_EVERY, READINGS_A_SURVEY = 8, 900
# An entry is sent as often as it takes; a worker that starts anew needs seconds, not this long [s].
PATIENCE_S = 60


@dataclass
class Ledger:
    """What the keeper typed and was told, kept outside of the server."""

    readings: dict[str, float] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    cut: int = 0
    kills: int = 0

    @property
    def heard(self) -> int:
        """How many entries were acknowledged so far."""
        return len(self.readings) + len(self.notes)


class Killer(threading.Thread):
    """Kills a worker of the served app at random moments until KILLS of them are."""

    def __init__(self, app, ledger, chance):
        super().__init__(daemon=True)
        self.app, self.ledger, self.chance = app, ledger, chance
        self.over = threading.Event()

    def run(self):
        while self.ledger.kills < KILLS:
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
                self.ledger.kills += 1


def send(keeper, ledger, path, body, kind):
    """Post until it is acknowledged, as the queue of a device does."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            status, _, text = keeper.ask("POST", path, body, kind)
        except (OSError, http.client.HTTPException):
            ledger.cut += 1
            time.sleep(0.02)
            continue
        assert status == 200, (status, text[:300])
        return json.loads(text)
    raise AssertionError("never acknowledged")


def send_reading(keeper, owner, survey, ledger, number):
    mark, value = str(uuid.uuid4()), 50.0 + number % 200
    edit = {"id": str(uuid.uuid4()), "point": mark, "sequence": number, "revision": 1,
            "x_cm": 10, "y_cm": 20, "depth_cm": 5, "value_umol": value,
            "spread_umol": None}  # fmt: skip
    body = json.dumps({"keeper": owner.pk, "device": "phone", "edits": [edit]})
    path = reverse("survey_sync", args=[survey.pk])
    answer = send(keeper, ledger, path, body, "application/json")
    assert edit["id"] in answer["accepted"], answer
    ledger.readings[mark] = value


def send_note(keeper, owner, coral, ledger):
    key = str(uuid.uuid4())
    note = note_of(coral, photo=key)
    form = {"keeper": owner.pk, "notes": json.dumps([note]), key: sent(encoded())}
    path = reverse("round_sync", args=[coral.tank_id])
    body = encode_multipart(BOUNDARY, form)
    answer = send(keeper, ledger, path, body, MULTIPART_CONTENT)
    assert note["id"] in answer["accepted"], answer
    ledger.notes.append(note["id"])


@pytest.fixture
def entered(transactional_db, served_app, settings):
    """Entries sent to the served app while its workers were killed: the ledger and the tank."""
    settings.MEDIA_ROOT = served_app.photos
    tank = make_tank()
    survey, coral = make_survey(tank, readings=[]), make_coral(tank)
    keeper, ledger = Visitor(served_app, tank.owner), Ledger()
    killer = Killer(served_app, ledger, random.Random(SEED))
    killer.start()
    number = 0
    while killer.is_alive():
        number += 1
        if number % PHOTO_EVERY == 0:
            send_note(keeper, tank.owner, coral, ledger)
        else:
            send_reading(keeper, tank.owner, survey, ledger, number)
        if number % READINGS_A_SURVEY == 0:
            survey = make_survey(tank, readings=[])
    killer.over.set()
    killer.join(timeout=5)
    served_app.wait()
    return ledger, tank


def test_killed_workers_lose_and_double_nothing(entered):
    ledger, tank = entered
    rows = Reading.objects.filter(survey__tank=tank)
    stored = [(str(r.client_id), r.value_umol) for r in rows]
    noted = [str(mark) for mark in HealthNote.objects.values_list("client_id", flat=True)]
    check = check_files(
        Photo.objects.all(), FileSystemStorage(settings.MEDIA_ROOT), before=timezone.now()
    )
    print(
        f"{ledger.kills} kills, {ledger.cut} requests cut; acknowledged {len(ledger.readings)} "
        f"readings and {len(ledger.notes)} notes with a photo; "
        f"{len(check.orphans)} files without a note"
    )
    assert ledger.kills >= KILLS
    assert len(stored) == len(dict(stored)) and dict(stored) == ledger.readings
    assert sorted(noted) == sorted(ledger.notes)
    assert Photo.objects.count() == len(ledger.notes) and check.missing == ()
