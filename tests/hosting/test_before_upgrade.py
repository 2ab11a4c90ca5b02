"""What is said before an upgrade, of a site of an earlier day."""

import datetime as dt
import shutil

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, migrations, models
from django.db.migrations import Migration
from django.utils import timezone

from apps.hosting.doctor import before_upgrade
from apps.hosting.doctor.finding import State
from tests.hosting.old_sites import opened

NOW = timezone.now()

pytestmark = pytest.mark.one_database


@pytest.fixture
def site(transactional_db, tmp_path, settings):
    with opened("2026-11-26", tmp_path, settings):
        connection.ensure_connection()
        yield tmp_path


@pytest.fixture
def backups(tmp_path):
    """A folder with a backup that was just made."""
    folder = tmp_path / "backups"
    folder.mkdir()
    (folder / "reeflog-20261126-030000.tar").touch()
    return folder


def states(folder, now=NOW):
    return {one.thing: one.state for one in before_upgrade.look_ahead(folder, now)}


def test_a_site_with_a_fresh_backup_may_be_upgraded_and_is_left_alone(site, backups, capsys):
    before = list(connection.connection.iterdump())
    call_command("preflight", backups=backups)
    text = capsys.readouterr().out
    assert "tanks.0009_hand_over" in text and "Nothing to mend." in text
    assert list(connection.connection.iterdump()) == before


def test_what_can_not_be_undone_is_named():
    step = Migration("0002_less", "tanks")
    step.operations = [migrations.RemoveField("tank", "name"), migrations.RunSQL("SELECT 1")]
    things = {one.thing: one for one in before_upgrade.losses([step])}
    assert things.keys() == {"deletes", "no way back"}
    assert all("tanks.0002_less" in one.words for one in things.values())


def test_what_only_adds_goes_without_a_word():
    step = Migration("0002_more", "tanks")
    step.operations = [migrations.AddField("tank", "more", models.IntegerField(null=True))]
    assert list(before_upgrade.losses([step])) == []


def test_without_a_backup_it_fails(site):
    with pytest.raises(CommandError, match="1 to mend"):
        call_command("preflight")


@pytest.mark.parametrize(("hours", "state"), [(23, State.OK), (25, State.MEND)])
def test_the_backup_must_be_of_the_last_day(site, backups, hours, state):
    assert states(backups, timezone.now() + dt.timedelta(hours=hours))["backups"] == state


@pytest.mark.parametrize(("share", "state"), [(2.01, State.OK), (1.99, State.MEND)])
def test_there_must_be_room_for_a_copy(site, backups, monkeypatch, share, state):
    usage = type("Usage", (), {"free": share * before_upgrade.database_bytes()})
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    assert states(backups)["disk"] == state


def test_a_database_of_a_newer_version_is_not_to_be_migrated(site, backups):
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_migrations (app, name, applied) "
            "VALUES ('tanks', '0999_of_tomorrow', '2027-01-01')"
        )
    findings = list(before_upgrade.look_ahead(backups, NOW))
    assert [one.state for one in findings] == [State.MEND]
    assert "tanks.0999_of_tomorrow" in findings[0].words


def test_a_site_of_today_has_nothing_to_migrate(db, backups):
    assert states(backups).keys() == {"database", "disk", "backups"}
