"""Closed sign-up: who has a link gets in, once; and a link for a lost password."""

import datetime as dt
import logging

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from apps.accounts.inviting import SESSION_KEY
from apps.accounts.models import SignUpInvitation, User
from tests.accounts.test_sign_in import NEW, is_signed_in, sign_in
from tests.factories import PASSWORD


@pytest.fixture(autouse=True)
def closed(db, settings):
    settings.SIGN_UP = "closed"
    cache.clear()


@pytest.fixture
def path(capsys):
    call_command("invite_keeper")
    return capsys.readouterr().out.split(": ")[-1].strip()


def sign_up(client, **changed):
    return client.post("/accounts/signup/", NEW | changed)


def test_a_link_lets_one_person_sign_up(client, path):
    assert client.get(path)["Location"] == "/accounts/signup/"
    sign_up(client)
    assert is_signed_in(client) and User.objects.count() == 1


def test_it_works_once(client, path):
    client.get(path)
    sign_up(client)
    late = Client()
    assert late.get(path).status_code == 404
    sign_up(late, email="late@example.org")
    assert User.objects.count() == 1


def test_of_two_who_opened_it_one_gets_in(client, path):
    other = Client()
    for visitor in (client, other):
        visitor.get(path)
    sign_up(client)
    answer = sign_up(other, email="other@example.org")
    assert answer.status_code == 200 and not is_signed_in(other) and User.objects.count() == 1


def test_of_two_who_sign_up_at_the_same_moment_one_gets_in(client, path, monkeypatch):
    """Both were let in by the check before; the account is what uses the link up."""
    client.get(path)
    SignUpInvitation.objects.update(used_at=timezone.now())
    monkeypatch.setattr("apps.accounts.adapter.is_invited", lambda request: True)
    assert sign_up(client)["Location"] == "/accounts/signup/"
    assert not User.objects.exists() and not is_signed_in(client)


@pytest.mark.parametrize(("days", "is_open"), [(13, True), (15, False)])
def test_it_ends(client, path, days, is_open, monkeypatch):
    later = timezone.now() + dt.timedelta(days=days)
    monkeypatch.setattr("apps.accounts.models.timezone.now", lambda: later)
    assert (client.get(path).status_code == 302) is is_open


def test_a_refused_form_does_not_use_it_up(client, path):
    client.get(path)
    assert b"field__error" in sign_up(client, password1="12345678").content
    sign_up(client)
    assert is_signed_in(client)


def test_the_link_itself_is_kept_nowhere(client, path):
    token = path.split("/")[-2]
    client.get(path)
    assert token not in (client.session[SESSION_KEY], SignUpInvitation.objects.get().token_hash)


def test_a_made_up_link_opens_nothing(client):
    assert client.get("/accounts/invited/made-up/").status_code == 404
    assert not is_signed_in(client) and SESSION_KEY not in client.session


@pytest.mark.parametrize("days", [0, 91])
def test_days_have_bounds(days):
    with pytest.raises(CommandError, match="--days"):
        call_command("invite_keeper", days=days)


# --- Lost passwords -------------------------------------------------------------------------
@pytest.fixture
def reset_path(owner, capsys):
    call_command("reset_link", "OWNER@example.org")
    return capsys.readouterr().out.split(": ")[-1].strip()


def choose(client, path, password):
    form = client.get(path, follow=True)
    return client.post(form.request["PATH_INFO"], {"password1": password, "password2": password})


def test_a_host_helps_where_no_mail_is_sent_and_the_link_works_once(client, reset_path):
    choose(client, reset_path, "a-password-after-this-58")
    late = Client()
    choose(late, reset_path, "a-password-of-a-thief-58")
    sign_in(client, password="a-password-after-this-58")
    assert is_signed_in(client)


def test_a_link_for_a_password_signs_in_nobody(client, reset_path):
    client.get(reset_path, follow=True)
    assert not is_signed_in(client)
    sign_in(client, password=PASSWORD)
    assert is_signed_in(client)


def test_that_a_host_made_one_is_in_the_log(owner, caplog):
    caplog.set_level(logging.INFO, logger="reeflog.security")
    call_command("reset_link", owner.email)
    assert [record.account for record in caplog.records] == [owner.pk]


def test_there_is_none_for_nobody(owner):
    User.objects.update(is_active=False)
    for email in ("owner@example.org", "nobody@example.org"):
        with pytest.raises(CommandError, match="Nobody"):
            call_command("reset_link", email)
