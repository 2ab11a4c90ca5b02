"""The doctor says what to mend, and fails when there is something."""

import datetime as dt
import json
import os

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from apps.common.push.keys import make_key
from apps.hosting.doctor import checks, database
from apps.hosting.doctor.finding import State
from apps.tanks.kept_pages import triggers

KEY = "x7!kQ2#vN9$mB4%tR8^wE3&yU6*iO1(pL5)sD0_fG-hJ=zC+aVqZ"


@pytest.fixture
def sound(db, settings, tmp_path, monkeypatch):
    """A site with nothing to mend, as far as a test's process can be one."""
    settings.DEBUG, settings.SECRET_KEY, settings.HTTPS, settings.PROXY_COUNT = False, KEY, True, 1
    settings.ALLOWED_HOSTS, settings.HSTS_SECONDS = ["testserver"], 31_536_000
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.SECURE_SSL_REDIRECT, settings.SECURE_HSTS_SECONDS = True, 31_536_000
    settings.DATA_DIR = settings.STATIC_ROOT = tmp_path
    settings.STATICFILES_DIRS = [settings.BASE_DIR / "static"]
    settings.MAILS = "sent"
    files = (p for p in (settings.BASE_DIR / "static").rglob("*") if p.is_file())
    names = {str(path.relative_to(settings.BASE_DIR / "static")): "" for path in files}
    (tmp_path / "staticfiles.json").write_text(json.dumps({"paths": names}))
    # Set where a test of this process drove a browser.
    monkeypatch.delenv("DJANGO_ALLOW_ASYNC_UNSAFE", raising=False)
    monkeypatch.setattr(database, "pending_migrations", lambda: 0)
    usage = type("Usage", (), {"free": 20 * checks.GB})
    monkeypatch.setattr(checks.shutil, "disk_usage", lambda _: usage)
    return settings


def found_by(check):
    return [(one.thing, one.state) for one in check()]


def test_a_sound_site_has_nothing_to_mend(sound, capsys):
    call_command("doctor")
    told = capsys.readouterr().out
    assert "Nothing to mend." in told and len(told.splitlines()) >= len(checks.CHECKS)


def test_it_fails_when_something_is_to_be_mended(sound, capsys):
    sound.HTTPS = False
    with pytest.raises(CommandError, match="to mend"):
        call_command("doctor")
    assert "REEFLOG_HTTPS" in capsys.readouterr().out


def test_a_push_key_is_looked_at_where_there_is_one(sound):
    assert found_by(checks.push) == []
    sound.PUSH_KEY, sound.CONTACT = make_key(), "mailto:host@example.org"
    assert found_by(checks.push) == [("push", State.OK)]
    sound.CONTACT = ""
    assert found_by(checks.push) == [("push", State.LOOK)]
    sound.HTTPS = False
    assert found_by(checks.push) == [("push", State.MEND)]
    sound.PUSH_KEY = "none"
    with pytest.raises(ValueError):
        found_by(checks.push)


def full_disk(monkeypatch):
    usage = type("Usage", (), {"free": checks.GB // 2})
    monkeypatch.setattr(checks.shutil, "disk_usage", lambda _: usage)


@pytest.mark.parametrize(
    ("change", "check"),
    [
        (lambda s, m: setattr(s, "DEBUG", True), checks.site_settings),
        (lambda s, m: setattr(s, "SESSION_COOKIE_SECURE", False), checks.site_settings),
        (lambda s, m: setattr(s, "SECRET_KEY", "short"), checks.secret_key),
        (lambda s, m: setattr(s, "HTTPS", False), checks.https),
        (lambda s, m: setattr(s, "PROXY_COUNT", 0), checks.https),
        (lambda s, m: m.setattr(database, "pending_migrations", lambda: 3), checks.database),
        (lambda s, m: m.setattr(database, "newer_migrations", lambda: ["z"]), checks.database),
        (lambda s, m: full_disk(m), checks.disk),
        (lambda s, m: m.setattr(checks.zoneinfo, "available_timezones", set), checks.time_zones),
        (lambda s, m: (s.DATA_DIR / "staticfiles.json").unlink(), checks.static_files),
        (lambda s, m: s.STATICFILES_DIRS.append(s.BASE_DIR / "docs"), checks.static_files),
        (lambda s, m: setattr(s, "HTTPS", False), checks.offline_worker),
        (lambda s, m: m.setattr(checks, "reverse", lambda _: "/nothing/"), checks.offline_worker),
    ],
)  # fmt: skip
def test_what_is_wrong_is_to_be_mended(sound, monkeypatch, change, check):
    change(sound, monkeypatch)
    assert State.MEND in [state for _, state in found_by(check)]


def test_a_stamp_trigger_that_is_gone_is_to_be_mended(db):
    assert found_by(checks.stamps) == [("stamps", State.OK)]
    triggers.drop(connection, triggers.our_triggers(connection)[:1])
    assert found_by(checks.stamps) == [("stamps", State.MEND)]


def test_a_stamp_trigger_that_does_something_else_is_to_be_mended(db):
    one = next(t for t in triggers.our_triggers(connection) if t.name.endswith("insert"))
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            triggers.drop(connection, [one])
            cursor.execute(one.text.replace("ORDER BY", "AND false ORDER BY"))
        else:
            cursor.execute(
                f'CREATE OR REPLACE FUNCTION "{one.name}"() RETURNS trigger '
                "LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'"
            )
    assert found_by(checks.stamps) == [("stamps", State.MEND)]


class ReadOnly:
    def save(self, *_):
        raise PermissionError("read-only")


def test_a_storage_that_can_not_be_written_is_said_and_ends_nothing(sound, monkeypatch):
    monkeypatch.setattr(checks, "default_storage", ReadOnly())
    told = {one.thing: one for one in checks.examine()}
    assert told["storage"].state == State.MEND and "read-only" in told["storage"].words
    assert told["offline worker"].state == State.OK


def test_looking_leaves_no_file(sound, tmp_path):
    list(checks.examine())
    assert [path for path in tmp_path.rglob("probe*") if path.is_file()] == []


def test_a_mail_server_that_does_not_answer_is_to_be_mended(sound, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    told = {one.thing: one for one in checks.examine()}
    assert told["mails"].state == State.MEND


@pytest.mark.parametrize(
    ("age", "state"), [(1, State.OK), (47, State.OK), (49, State.MEND), (None, State.MEND)]
)
def test_backups_must_be_of_these_days(tmp_path, age, state):
    now = timezone.now()
    if age is not None:
        path = tmp_path / "reeflog-20261129-030000.tar"
        path.touch()
        made = (now - dt.timedelta(hours=age)).timestamp()
        os.utime(path, (made, made))
    assert checks.backups(tmp_path, now).state == state
