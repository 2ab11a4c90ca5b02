"""Backing up and restoring: all of a site, and nothing that is not whole and ours."""

import hashlib
import json
import sqlite3
import tarfile
from contextlib import closing, contextmanager

import pyrage
import pytest
from django.core.files.storage import InMemoryStorage, default_storage
from django.core.management import CommandError, call_command
from django.db import connection

from apps.accounts.models import User
from apps.corals.models import HealthNote, Photo
from apps.hosting.backup import form, moment, opening, restoring, writing
from apps.hosting.backup.moment import Contents, contents_of
from apps.later.models import Job
from tests.corals.shots import make_photo
from tests.factories import make_arrival, make_coral, make_tank, make_user, make_written_zip
from tests.hosting.backups import parts_of, restate, sign, state, write_parts


@pytest.fixture
def lived_in(site):
    """A site with a keeper, a coral and its photo."""
    make_photo(make_coral(make_tank(make_user(email="owner@example.org"))))
    return site


@pytest.fixture
def folder(tmp_path):
    path = tmp_path / "backups"
    path.mkdir()
    return path


@pytest.fixture
def backup(lived_in, folder):
    call_command("back_up", folder, verbosity=0)
    return next(folder.iterdir())


def sums_of(site):
    """Return {path: digest} of the files of a site, and what its database holds."""
    files = (path for path in site.rglob("*") if path.is_file() and "sqlite3" not in path.name)
    sums = {str(p.relative_to(site)): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}
    if connection.vendor != "sqlite":
        return sums, contents_of(connection)
    with closing(sqlite3.connect(site / "reeflog.sqlite3")) as database:
        return sums, list(database.iterdump())


def held_by():
    """Return what the site's database holds, and the content of each file."""
    contents = contents_of(connection)
    return contents, {path: default_storage.open(path).read() for path in contents.files}


def wreck():
    """Lose everything: rows and files."""
    for photo in Photo.objects.all():
        default_storage.delete(photo.image.name)
    HealthNote.objects.all().delete()
    User.objects.all().delete()


def refusal(*words, **options):
    with pytest.raises(CommandError) as caught:
        call_command(*words, **options)
    return str(caught.value)


# --- Whole ----------------------------------------------------------------------------------
@pytest.mark.parametrize("is_locked", [False, True], ids=["plain", "locked"])
def test_a_lost_site_is_back_row_by_row_and_byte_by_byte(lived_in, folder, is_locked, capsys):
    key = folder.parent / "key"
    call_command("back_up", new_key=key)
    make_arrival(User.objects.get())
    before = held_by()
    call_command("back_up", folder, encrypt=key if is_locked else None)
    wreck()
    (path,) = folder.iterdir()
    call_command("restore", path, key=key if is_locked else None)
    assert held_by() == before and len(before[1]) == 3
    assert f"{sum(before[0].tables.values())} rows" in capsys.readouterr().out


def test_files_of_jobs_stay_out_and_their_rows_come_back(lived_in, folder):
    keeper = User.objects.get()
    zipped = make_written_zip(keeper).file.name
    call_command("back_up", folder, verbosity=0)
    (path,) = folder.iterdir()
    assert not [name for name in parts_of(path) if "jobs" in name]
    wreck()
    call_command("restore", path, verbosity=0)
    assert Job.objects.get().file.name == zipped and not default_storage.exists(zipped)


def test_a_backup_of_before_that_holds_files_of_jobs_is_restored(lived_in, folder, monkeypatch):
    zipped = make_written_zip(User.objects.get()).file.name
    monkeypatch.setattr(moment, "lasting", frozenset)
    call_command("back_up", folder, verbosity=0)
    monkeypatch.undo()
    (path,) = folder.iterdir()
    assert form.FILES + zipped in parts_of(path)
    wreck()
    call_command("restore", path, verbosity=0)
    assert Job.objects.get().file.read() == b"a zip"


def test_a_locked_backup_shows_nothing(lived_in, folder):
    call_command("back_up", new_key=folder.parent / "key")
    call_command("back_up", folder, encrypt=folder.parent / "key")
    content = next(folder.iterdir()).read_bytes()
    assert content.startswith(b"age-encryption.org/v1")
    assert not any(word in content for word in (b"owner@example.org", b"manifest.json", b"JFIF"))


def test_a_public_key_locks_and_does_not_open(lived_in, folder):
    secret, public = folder.parent / "secret", folder.parent / "public"
    call_command("back_up", new_key=secret)
    public.write_text(secret.read_text().split()[3] + "\n")
    call_command("back_up", folder, encrypt=public)
    (path,) = folder.iterdir()
    assert "does not open" in refusal("restore", path, key=public)
    call_command("restore", path, key=secret, check=True)


def test_a_photo_deleted_while_the_database_is_copied_is_in_it(lived_in, folder, monkeypatch):
    path = Photo.objects.get().image.name
    kind = moment._SqliteMoment if connection.vendor == "sqlite" else moment._PostgresMoment
    write = kind.write

    def amid_a_deletion(held, target):
        elsewhere = connection.copy()
        default_storage.delete(path)
        with elsewhere.cursor() as cursor:
            cursor.execute("UPDATE corals_photo SET image = '' WHERE image = %s", [path])
        elsewhere.close()
        write(held, target)

    monkeypatch.setattr(kind, "write", amid_a_deletion)
    call_command("back_up", folder, verbosity=0)
    call_command("restore", next(folder.iterdir()), verbosity=0)
    assert Photo.objects.get().image.name == path and default_storage.exists(path)


def test_keys_and_backups_are_for_their_owner_alone(backup, folder):
    call_command("back_up", new_key=folder / "key")
    assert {path.stat().st_mode & 0o777 for path in folder.iterdir()} == {0o600}
    assert "never overwritten" in refusal("back_up", new_key=folder / "key")


def test_what_was_there_before_is_kept_aside(backup, lived_in):
    User.objects.update(display_name="After")
    call_command("restore", backup)
    (aside,) = lived_in.glob("before-restore-*")
    assert len([path for path in aside.rglob("*") if path.suffix == ".jpg"]) == 2
    assert not User.objects.filter(display_name="After").exists()


def test_checking_changes_nothing(backup, lived_in, capsys):
    before = sums_of(lived_in)
    call_command("restore", backup, check=True)
    assert "2 files" in capsys.readouterr().out and sums_of(lived_in) == before


def test_a_bucket_gets_back_what_it_lost(backup, monkeypatch):
    bucket = InMemoryStorage()
    for module in (restoring, writing):
        monkeypatch.setattr(module, "default_storage", bucket)
    call_command("restore", backup)
    image = Photo.objects.get().image.name
    assert bucket.open(image).read() == parts_of(backup)[form.FILES + image]


def test_a_photo_that_was_missing_before_is_named_and_hinders_nothing(lived_in, folder, capsys):
    default_storage.delete(Photo.objects.get().image.name)
    call_command("back_up", folder)
    (line,) = (one for one in capsys.readouterr().out.splitlines() if "check_photos" in one)
    assert line.startswith("1 ")
    call_command("restore", next(folder.iterdir()))


# --- Rotation -------------------------------------------------------------------------------
def test_the_oldest_go_and_other_files_stay(lived_in, folder):
    for name in ("reeflog-20200101-000000.tar", "reeflog-20210101-000000.tar.age", "notes.txt"):
        (folder / name).write_text("x")
    call_command("back_up", folder, keep=2, verbosity=0)
    names = sorted(path.name for path in folder.iterdir())
    assert names[0] == "notes.txt" and names[1] == "reeflog-20210101-000000.tar.age"
    assert len(names) == 3


def test_nothing_goes_where_no_backup_was_made(lived_in, folder, monkeypatch):
    (folder / "reeflog-20200101-000000.tar").write_text("x")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing, "moment_held", full)
    assert "No space left" in refusal("back_up", folder, keep=1)
    assert [path.name for path in folder.iterdir()] == ["reeflog-20200101-000000.tar"]


@pytest.mark.parametrize("words", [("nowhere",), ()], ids=["no such folder", "none named"])
def test_it_needs_a_folder(site, words):
    assert "folder" in refusal("back_up", *words)


# --- Refused --------------------------------------------------------------------------------
def flip_photo(parts):
    name = next(name for name in parts if name.startswith(form.FILES))
    parts[name] = parts[name][:-1] + bytes([parts[name][-1] ^ 1])


def add_migration(parts):
    known = json.loads(parts[form.MANIFEST])["migrations"]
    state(parts, migrations=[*known, "tanks.9999_of_next_year"])
    sign(parts)


def hide_photo(parts):
    del parts[next(name for name in parts if name.startswith(form.FILES))]


def spoil_database(parts):
    parts[form.DATABASE] = parts[form.DATABASE][:100] + b"\0" * 5000
    restate(parts, form.DATABASE)


def count_one_more(parts):
    tables = json.loads(parts[form.MANIFEST])["tables"]
    state(parts, tables=tables | {"accounts_user": tables["accounts_user"] + 1})


def sign_count_one_more(parts):
    count_one_more(parts)
    sign(parts)


def newer_form(parts):
    state(parts, form=form.FORM + 1, version="9.9")
    sign(parts)


def other_engine(parts):
    state(parts, engine="oracle")
    sign(parts)


ON_SQLITE = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="PostgreSQL waits for its readers by itself."
)
CHANGES = [
    pytest.param(flip_photo, "damaged or was edited", id="a bit of a photo"),
    pytest.param(hide_photo, "damaged or was edited", id="a photo left out"),
    pytest.param(lambda parts: parts.update({"files/x": b"x"}), "edited", id="a file more"),
    pytest.param(count_one_more, "edited, or made with another", id="a count"),
    pytest.param(sign_count_one_more, "does not hold", id="a signed count"),
    pytest.param(spoil_database, "", id="the database"),
    pytest.param(add_migration, "newer reeflog", id="a migration of next year"),
    pytest.param(newer_form, "newer reeflog (9.9)", id="a form of next year"),
    pytest.param(other_engine, "oracle", id="another engine"),
    pytest.param(lambda parts: parts.pop(form.SIGNATURE), "damaged", id="no signature"),
    pytest.param(lambda parts: state(parts, tables=1), "edited", id="an odd manifest"),
    pytest.param(lambda parts: parts.update({"files/../../x": b"x"}), "no backup", id="a way out"),
    pytest.param(lambda parts: parts.update({"/etc/x": b"x"}), "no backup", id="from the root"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "word"), CHANGES)
def test_a_changed_backup_is_refused_and_nothing_is_changed(backup, lived_in, change, word):
    parts = parts_of(backup)
    change(parts)
    changed = write_parts(backup.with_name("changed.tar"), parts)
    before = sums_of(lived_in)
    said = refusal("restore", changed)
    assert said.startswith("Nothing was changed.") and word in said and "\n" not in said
    assert sums_of(lived_in) == before


@pytest.mark.parametrize("cut", [0.0, 0.3, 0.99])
def test_a_backup_cut_short_is_refused(backup, lived_in, cut):
    content = backup.read_bytes()
    # The end of a tar is padding: what matters of it lies before.
    whole = len(content.rstrip(b"\0"))
    backup.write_bytes(content[: int(whole * cut)])
    before = sums_of(lived_in)
    assert "damaged" in refusal("restore", backup)
    assert sums_of(lived_in) == before


def test_a_locked_backup_needs_its_own_key_and_all_of_itself(lived_in, folder):
    right, wrong = folder.parent / "right", folder.parent / "wrong"
    for key in (right, wrong):
        call_command("back_up", new_key=key)
    call_command("back_up", folder, encrypt=right)
    (path,) = folder.iterdir()
    assert "locked" in refusal("restore", path)
    assert "key" in refusal("restore", path, key=wrong)
    content = path.read_bytes()
    path.write_bytes(content[:-40])
    assert "damaged" in refusal("restore", path, key=right)
    path.write_bytes(content[:-40] + bytes([content[-40] ^ 1]) + content[-39:])
    assert "damaged" in refusal("restore", path, key=right)


def test_a_link_in_a_backup_is_refused(backup, lived_in):
    with tarfile.open(backup, "a") as tar:
        link = tarfile.TarInfo("files/link")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
        tar.addfile(link)
    assert "no backup" in refusal("restore", backup)


def test_another_secret_key_asks_for_a_word_and_a_former_one_does_not(backup, settings):
    former = settings.SECRET_KEY
    settings.SECRET_KEY = "another-key-of-another-site-0123456789"
    assert "--trust" in refusal("restore", backup)
    call_command("restore", backup, trust=True, check=True)
    settings.SECRET_KEY_FALLBACKS = [former]
    call_command("restore", backup, check=True)


def test_a_full_disk_is_said_before_anything_is_unpacked(backup, monkeypatch):
    usage = type("Usage", (), {"free": 1})
    monkeypatch.setattr(opening.shutil, "disk_usage", lambda _: usage)
    assert "no room" in refusal("restore", backup)


@contextmanager
def reading(path):
    """Be somebody else who has the database open."""
    with closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN")
        other.execute("SELECT COUNT(*) FROM accounts_user").fetchone()
        yield


@ON_SQLITE
def test_an_open_database_is_not_replaced(backup, lived_in):
    before = sums_of(lived_in)
    with reading(connection.settings_dict["NAME"]):
        assert "stop it" in refusal("restore", backup)
    assert sums_of(lived_in) == before


def test_what_fails_half_way_is_taken_back(backup, lived_in, monkeypatch):
    before = sums_of(lived_in)

    class Stuck(restoring.Moves):
        def move(self, source, target):
            # What was there is out of the way by then, and half of the backup in place.
            if len(self.done) == 3:
                raise form.UnfitBackup("The disk is gone.")
            super().move(source, target)

    def refuse(_):
        raise form.UnfitBackup("The disk is gone.")

    monkeypatch.setattr(restoring, "Moves", Stuck)
    monkeypatch.setattr(restoring, "_load_postgres", refuse)
    assert "disk is gone" in refusal("restore", backup)
    assert sums_of(lived_in) == before


def test_a_restore_that_can_not_be_proved_is_not_called_one(backup, lived_in, monkeypatch):
    monkeypatch.setattr(restoring, "contents_of", lambda _: Contents({}, [], frozenset()))
    said = refusal("restore", backup)
    assert "does not hold" in said and "before-restore-" in said


@pytest.mark.parametrize("text", ["", "no key", "AGE-SECRET-KEY-1NONE"])
def test_a_key_file_must_hold_a_key(lived_in, folder, text):
    (folder / "key").write_text(text)
    assert "no key" in refusal("back_up", folder, encrypt=folder / "key")


def test_the_key_is_one_of_age(lived_in, folder):
    call_command("back_up", new_key=folder / "key")
    line = (folder / "key").read_text().splitlines()[1]
    assert str(pyrage.x25519.Identity.from_str(line)) == line
