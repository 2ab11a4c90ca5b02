"""`make run`: what a newcomer is told, and what they meet."""

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError


@pytest.fixture
def served(monkeypatch, settings):
    """Stand in for the server, which would never return; collect what it was told."""
    told = []
    monkeypatch.setattr(
        "reeflog.management.commands.start.call_command",
        lambda name, *args, **options: told.append((name, *args)),
    )
    settings.ALLOWED_HOSTS = ["127.0.0.1"]
    return told


def test_it_migrates_and_serves_here(db, served, owner, capsys):
    call_command("start", port=0)
    assert served == [("migrate",), ("runserver", "127.0.0.1:0")]
    assert "http://127.0.0.1:0" in capsys.readouterr().out


def test_errors_show_the_keepers_pages(db, served, owner, settings):
    settings.DEBUG = True
    call_command("start", port=0)
    assert settings.DEBUG is False


def test_served_to_the_house_it_warns_and_answers(db, served, owner, settings, capsys):
    call_command("start", port=0, host="0.0.0.0")
    assert "0.0.0.0" in settings.ALLOWED_HOSTS
    assert "plain HTTP" in capsys.readouterr().out


def test_a_foreign_address_is_one_clear_line(db, served):
    # 192.0.2.0/24 is for documentation (RFC 5737) and no machine's own.
    with pytest.raises(CommandError, match=r"192\.0\.2\.1 is no address of this machine"):
        call_command("start", port=0, host="192.0.2.1")
