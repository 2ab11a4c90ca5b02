"""Photo files stand and fall with their rows, also where the disk or the database fails."""

import datetime as dt
import errno
import os
import re
import time
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote, Photo
from apps.corals.notes import noting
from apps.corals.notes.noting import add_photo, stored_photo
from apps.corals.photo_cleaning import clean_photo
from apps.corals.photo_files import take_back_files
from tests.corals.pictures import encoded, sent
from tests.corals.shots import make_photo
from tests.factories import make_coral, make_note, make_sent_photo


def files():
    return sorted(path.name for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file())


@pytest.fixture
def note_address(transactional_db, tank):
    return reverse("note_new", args=[make_coral(tank).pk])


def send_note(owner, address):
    client = Client(raise_request_exception=False)
    client.force_login(owner)
    note = {
        "noted_on": str(timezone.now().date()),
        "seen": "paling",
        "strength": "2",
        "photo": sent(encoded()),
    }
    return client.post(address, note).status_code


def test_a_saved_photo_keeps_its_files(note_address, owner):
    assert send_note(owner, note_address) == 302
    assert len(files()) == 2 and Photo.objects.count() == 1


def test_a_row_that_fails_takes_its_files_back(note_address, owner, monkeypatch):
    monkeypatch.setattr(Photo, "save", broken)
    assert send_note(owner, note_address) == 500
    assert files() == [] and not HealthNote.objects.exists()


def broken(*args, **kwargs):
    raise RuntimeError("on purpose")


def test_a_file_that_no_row_takes_goes_again(transactional_db, tank):
    stored_photo(clean())
    assert len(files()) == 2
    take_back_files()
    assert files() == []


def test_a_disk_that_is_full_half_way_leaves_no_cut_file(note_address, owner, monkeypatch):
    def cut_short(self, name, content):
        path = Path(self.path(name))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(FileSystemStorage, "_save", cut_short)
    assert send_note(owner, note_address) == 503
    assert files() == [] and not HealthNote.objects.exists()


def test_what_fails_after_the_note_was_saved_takes_the_files_back(transactional_db, tank):
    note = make_note(make_coral(tank))
    with pytest.raises(RuntimeError), transaction.atomic():
        with transaction.atomic():
            add_photo(note, stored_photo(clean()))
        raise RuntimeError("on purpose")
    take_back_files()
    assert files() == []


def test_files_of_a_transaction_that_is_still_open_stay(transactional_db, tank):
    note = make_note(make_coral(tank))
    with transaction.atomic():
        add_photo(note, stored_photo(clean()))
        take_back_files()
        assert len(files()) == 2
    take_back_files()
    assert len(files()) == 2


def test_a_file_of_that_name_is_not_taken_for_the_failed_one(transactional_db, tank, monkeypatch):
    photo = make_photo(make_coral(tank))
    before = files()
    monkeypatch.setattr(Photo, "save", broken)
    with pytest.raises(RuntimeError):
        noting.save_note(note=photo.note, photos=[stored_photo(clean())])
    take_back_files()
    assert files() == before


def clean():
    return clean_photo(sent(encoded()), bytes_max=10_000_000)


# --- check_photos ---------------------------------------------------------------------------
@pytest.fixture
def orphan(tank):
    """A photo whose files stand, and beside them a file that no note names."""
    photo = make_photo(make_coral(tank))
    path = Path(default_storage.path("notes/lost-photo.jpg"))
    path.write_bytes(b"x")
    return photo, path


def age(path, hours):
    then = time.time() - dt.timedelta(hours=hours).total_seconds()
    os.utime(path, (then, then))


def test_check_lists_orphans_and_missing_and_deletes_nothing(orphan, capsys):
    photo, path = orphan
    age(path, 2)
    Path(photo.image.path).unlink()
    call_command("check_photos")
    stated = capsys.readouterr().out
    assert "notes/lost-photo.jpg" in stated and f"missing: {photo.image.name}" in stated
    assert path.exists()


def test_check_removes_orphans_alone(orphan):
    photo, path = orphan
    age(path, 2)
    call_command("check_photos", remove=True)
    assert not path.exists() and Path(photo.image.path).exists()


def test_check_leaves_a_file_whose_upload_may_be_under_way(orphan):
    _, path = orphan
    call_command("check_photos", remove=True)
    assert path.exists()


def test_check_of_an_empty_storage_finds_nothing(db, capsys):
    call_command("check_photos")
    assert re.findall(r"\d+", capsys.readouterr().out) == ["0", "0"]


def test_files_of_photos_that_wait_are_no_orphans(tank, capsys):
    sent_photo = make_sent_photo(tank)
    for field in (sent_photo.image, sent_photo.thumbnail):
        age(Path(field.path), 2)
    lost = Path(default_storage.path("waiting/lost.jpg"))
    lost.write_bytes(b"x")
    age(lost, 2)
    call_command("check_photos", remove=True)
    assert not lost.exists() and Path(sent_photo.image.path).exists()
