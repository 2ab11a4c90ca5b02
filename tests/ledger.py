"""What keepers sent and were told was saved, kept outside of the server, against what is there."""

import http.client
import json
import time
import uuid
from dataclasses import dataclass, field

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
    refused: int = 0

    @property
    def heard(self) -> int:
        """How many entries were acknowledged so far."""
        return len(self.readings) + len(self.notes)


def send(keeper, ledger, path, body, kind, may_refuse=()):
    """Post until it is acknowledged, as the queue of a device does."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            status, _, text = keeper.ask("POST", path, body, kind)
        except (OSError, http.client.HTTPException):
            ledger.cut += 1
            time.sleep(0.02)
            continue
        if status in may_refuse:
            ledger.refused += 1
            time.sleep(0.02)
            continue
        assert status == 200, (status, text[:300])
        return json.loads(text)
    raise AssertionError("never acknowledged")


def send_reading(keeper, owner, survey, ledger, number, may_refuse=()):
    mark, value = str(uuid.uuid4()), 50.0 + number % 200
    edit = {"id": str(uuid.uuid4()), "point": mark, "sequence": number, "revision": 1,
            "x_cm": 10, "y_cm": 20, "depth_cm": 5, "value_umol": value,
            "spread_umol": None}  # fmt: skip
    body = json.dumps({"keeper": owner.pk, "device": "phone", "edits": [edit]})
    path = reverse("survey_sync", args=[survey.pk])
    answer = send(keeper, ledger, path, body, "application/json", may_refuse)
    assert edit["id"] in answer["accepted"], answer
    ledger.readings[mark] = value


def send_note(keeper, owner, coral, ledger, may_refuse=()):
    key = str(uuid.uuid4())
    note = note_of(coral, photo=key)
    form = {"keeper": owner.pk, "notes": json.dumps([note]), key: sent(encoded())}
    path = reverse("round_sync", args=[coral.tank_id])
    body = encode_multipart(BOUNDARY, form)
    answer = send(keeper, ledger, path, body, MULTIPART_CONTENT, may_refuse)
    assert note["id"] in answer["accepted"], answer
    ledger.notes.append(note["id"])


def enter_while(app, is_going_on, ledger, may_refuse=()):
    """Send entries of a new tank's keeper as long as something goes on; return the tank."""
    tank = make_tank()
    survey, coral = make_survey(tank, readings=[]), make_coral(tank)
    keeper = Visitor(app, tank.owner)
    number = 0
    while is_going_on():
        number += 1
        if number % PHOTO_EVERY == 0:
            send_note(keeper, tank.owner, coral, ledger, may_refuse)
        else:
            send_reading(keeper, tank.owner, survey, ledger, number, may_refuse)
        if number % READINGS_A_SURVEY == 0:
            survey = make_survey(tank, readings=[])
    return tank


def compare(ledger, tank):
    """Fail unless what is stored is what was acknowledged, once; return files without a note."""
    rows = Reading.objects.filter(survey__tank=tank)
    stored = [(str(r.client_id), r.value_umol) for r in rows]
    noted = [str(mark) for mark in HealthNote.objects.values_list("client_id", flat=True)]
    check = check_files(
        Photo.objects.all(), FileSystemStorage(settings.MEDIA_ROOT), before=timezone.now()
    )
    assert len(stored) == len(dict(stored)) and dict(stored) == ledger.readings
    assert sorted(noted) == sorted(ledger.notes)
    assert Photo.objects.count() == len(ledger.notes) and check.missing == ()
    print(
        f"acknowledged {len(ledger.readings)} readings and {len(ledger.notes)} notes with a "
        f"photo; {ledger.cut} requests cut, {ledger.refused} refused; "
        f"{len(check.orphans)} files without a note"
    )
    return check.orphans
