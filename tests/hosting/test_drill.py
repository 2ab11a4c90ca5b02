"""The drill: keepers note, send photos and delete while a backup is made; it is then restored.

The ledger is kept outside of the site: what stands in the restored site must be what stood in the
ledger at one moment between the beginning and the end of the backup, photos included.
"""

import hashlib
import random
import threading
import time
from contextlib import contextmanager

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import connection, transaction
from PIL import Image

from apps.corals.models import HealthNote, Photo
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import CleanPhoto
from apps.hosting.backup import writing
from apps.hosting.backup.moment import moment_held
from tests.corals.pictures import encoded
from tests.factories import make_coral, make_note, make_tank

SEED = 7
# Written between any two steps of the backup, so that each falls amid writes.
WRITES_A_STEP = 4
PATIENCE_S = 30


class Keeper(threading.Thread):
    """Notes with a photo, and now and then deletes one for good; writes down what stands then."""

    def __init__(self, coral):
        super().__init__(daemon=True)
        self.coral, self.over, self.chance = coral, threading.Event(), random.Random(SEED)
        self.problem = None
        # After each commit: {image's path: digest}.
        self.ledger = [{}]

    def run(self):
        try:
            while not self.over.is_set():
                self.write()
        except Exception as problem:
            self.problem = problem
        finally:
            connection.close()

    def write(self):
        stands = dict(self.ledger[-1])
        if len(stands) > 3 and self.chance.random() < 0.25:
            path = self.chance.choice(sorted(stands))
            HealthNote.objects.get(photos__image=path).delete()
            del stands[path]
        else:
            photo = self.noted_photo()
            stands[photo.image.name] = digest_of(photo.image.name)
        self.ledger.append(stands)

    def noted_photo(self):
        colour = tuple(self.chance.randrange(256) for _ in range(3))
        picture = encoded(made=Image.new("RGB", (60, 40), colour))
        with transaction.atomic():
            note = make_note(self.coral, seen="well")
            save_note(
                note=note,
                photos=[stored_photo(CleanPhoto(picture, picture, width_px=60, height_px=40))],
            )
        return note.photos.get()

    def wait_for(self, more):
        """Return once so many more writes are committed; one that is under way counts later."""
        wanted, until = len(self.ledger) + more, time.monotonic() + PATIENCE_S
        while len(self.ledger) < wanted:
            assert self.problem is None and time.monotonic() < until, self.problem
            time.sleep(0.005)


def digest_of(path):
    with default_storage.open(path) as file:
        return hashlib.sha256(file.read()).hexdigest()


@pytest.fixture
def keeper(site):
    keeper = Keeper(make_coral(make_tank()))
    keeper.start()
    keeper.wait_for(WRITES_A_STEP)
    yield keeper
    keeper.over.set()
    keeper.join(timeout=PATIENCE_S)


def test_a_backup_amid_writes_restores_to_a_moment_that_was(keeper, tmp_path, monkeypatch):
    moments = []

    @contextmanager
    def amid_writes():
        keeper.wait_for(WRITES_A_STEP)
        with moment_held() as moment:
            moments.append(moment)
            # Files of its rows may go in here.
            if len(moments) == 1:
                keeper.wait_for(WRITES_A_STEP)
            yield moment
            keeper.wait_for(WRITES_A_STEP)

    monkeypatch.setattr(writing, "moment_held", amid_writes)
    began = len(keeper.ledger) - 1
    call_command("back_up", tmp_path, verbosity=0)
    # A write that was committed may not be in the ledger yet.
    keeper.over.set()
    keeper.join(timeout=PATIENCE_S)
    assert keeper.problem is None
    connection.close()
    call_command("restore", next(tmp_path.glob("reeflog-*.tar")), verbosity=0)

    restored = {name: digest_of(name) for name in Photo.objects.values_list("image", flat=True)}
    fits = [n for n, stood in enumerate(keeper.ledger) if stood == restored]
    assert len(fits) >= 1 and began + WRITES_A_STEP <= fits[-1]
    assert fits[0] <= len(keeper.ledger) - 1 - WRITES_A_STEP
    assert HealthNote.objects.filter(photos=None).count() == 0
    print(f"{len(keeper.ledger) - 1} writes, {len(moments)} moments taken, it is write {fits[0]}")
