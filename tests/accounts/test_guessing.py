"""Guessed passwords: whoever guesses is held back, and the right keeper still gets in."""

import logging

import pytest
from allauth.account.models import EmailAddress
from django.contrib.auth import get_user
from django.core import mail
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client

from apps.accounts import adapter
from apps.accounts.known_devices import COOKIE
from apps.accounts.models import User
from tests.accounts.test_sign_in import NEW, is_signed_in, sign_in
from tests.factories import PASSWORD, make_user

ELSEWHERE = "203.0.113.7"


@pytest.fixture(autouse=True)
def fresh_counts(db):
    cache.clear()


@pytest.fixture(autouse=True)
def pauses(monkeypatch):
    """Keep what sign-in would have waited for [s]."""
    waited = []
    monkeypatch.setattr(adapter.AccountAdapter, "pause", staticmethod(waited.append))
    return waited


@pytest.fixture(autouse=True)
def behind_a_proxy(settings):
    """Tell addresses by the header that one proxy in front sets."""
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1


def from_network(ip):
    return Client(headers={"X-Forwarded-For": ip})


def guess(client, times, email="owner@example.org"):
    for _ in range(times):
        sign_in(client, email=email, password="wrong")


def test_a_guesser_is_refused_after_five(owner, caplog):
    guesser = from_network(ELSEWHERE)
    guess(guesser, 5)
    sign_in(guesser)
    assert not is_signed_in(guesser)


def test_a_guesser_elsewhere_does_not_lock_the_keeper_out(owner):
    guess(from_network(ELSEWHERE), 12)
    keeper = from_network("198.51.100.4")
    sign_in(keeper)
    assert is_signed_in(keeper)


def test_guesses_at_one_account_do_not_shut_the_others_of_that_home(owner):
    guesser = from_network(ELSEWHERE)
    guess(guesser, 6)
    other = make_user(email="other@example.org")
    sign_in(guesser, email=other.email)
    assert is_signed_in(guesser)


def test_fifty_networks_at_one_guess_each_slow_the_account(owner, pauses):
    for n in range(50):
        guess(from_network(f"203.0.113.{n}"), 1)
    assert len(pauses) == 40
    keeper = from_network("198.51.100.4")
    sign_in(keeper)
    assert is_signed_in(keeper) and len(pauses) == 41


def test_a_device_that_signed_in_before_is_not_slowed(owner, pauses):
    keeper = from_network("198.51.100.4")
    sign_in(keeper)
    keeper.post("/accounts/logout/")
    for n in range(12):
        guess(from_network(f"203.0.113.{n}"), 1)
    pauses.clear()
    sign_in(keeper)
    assert is_signed_in(keeper) and pauses == []


def test_a_known_device_gets_in_from_the_guessers_own_network(owner):
    keeper = from_network(ELSEWHERE)
    sign_in(keeper)
    keeper.post("/accounts/logout/")
    guess(from_network(ELSEWHERE), 6)
    sign_in(keeper)
    assert is_signed_in(keeper)


def test_a_known_device_that_guesses_is_refused_too(owner):
    thief = from_network(ELSEWHERE)
    sign_in(thief)
    thief.post("/accounts/logout/")
    guess(thief, 10)
    sign_in(thief)
    assert not is_signed_in(thief)


def test_a_known_device_is_known_for_its_accounts_alone(owner):
    device = from_network(ELSEWHERE)
    sign_in(device)
    device.post("/accounts/logout/")
    other = make_user(email="other@example.org")
    guess(device, 5, email=other.email)
    sign_in(device, email=other.email)
    assert not is_signed_in(device)


@pytest.mark.parametrize("value", ["", "x", "WyJhIixbImIiXV0:1:x"])
def test_a_made_up_device_is_not_known(owner, value):
    guesser = from_network(ELSEWHERE)
    guesser.cookies[COOKIE] = value
    guess(guesser, 6)
    sign_in(guesser)
    assert not is_signed_in(guesser)


def test_the_devices_cookie_is_read_by_no_script_and_at_sign_in_alone(owner):
    cookie = sign_in(from_network(ELSEWHERE)).cookies[COOKIE]
    assert cookie["httponly"] and cookie["path"] == "/accounts/" and owner.email not in cookie.value


def test_no_more_attempts_wait_than_a_worker_can_spare(owner, monkeypatch):
    for n in range(10):
        guess(from_network(f"203.0.113.{n}"), 1)
    monkeypatch.setattr(adapter._waiting, "acquire", lambda blocking: False)
    keeper = from_network("198.51.100.4")
    page = sign_in(keeper)
    assert not is_signed_in(keeper) and "few seconds" in page.content.decode()


def test_right_passwords_are_not_counted(owner):
    keeper = from_network(ELSEWHERE)
    for _ in range(8):
        sign_in(keeper)
        keeper.post("/accounts/logout/")
    sign_in(keeper)
    assert get_user(keeper).is_authenticated


def test_failures_and_lock_outs_are_logged_without_what_they_must_not_hold(owner, caplog):
    with caplog.at_level(logging.WARNING, logger="apps.accounts.adapter"):
        guess(from_network(ELSEWHERE), 6)
    stated = " ".join(record.getMessage() for record in caplog.records)
    assert stated.count("failed") == 5 and "locked out" in stated
    assert not any(secret in stated for secret in ("wrong", owner.email, ELSEWHERE))
    assert "203.0.113.x" in stated


@pytest.mark.parametrize(
    ("network", "short"),
    [("203.0.113.7", "203.0.113.x"), ("2001:db8:1:2::/64", "2001:db8:1::"), ("unknown", "unknown")],
)
def test_a_log_holds_a_shortened_network(network, short):
    assert adapter.shortened(network) == short


# --- Sign-up --------------------------------------------------------------------------------
@pytest.fixture
def sends_mail(settings):
    settings.ACCOUNT_EMAIL_VERIFICATION = "mandatory"


def test_sign_up_by_mail_answers_alike_whoever_has_an_account(sends_mail, client, owner):
    answers = [client.post("/accounts/signup/", NEW | {"email": email})
               for email in ("new@example.org", owner.email)]  # fmt: skip
    assert answers[0].status_code == answers[1].status_code == 302
    assert answers[0]["Location"] == answers[1]["Location"]
    assert [m.to for m in mail.outbox] == [["new@example.org"], [owner.email]]


def test_an_account_opens_once_its_mail_was_answered(sends_mail, client):
    client.post("/accounts/signup/", NEW)
    assert not is_signed_in(client)
    EmailAddress.objects.update(verified=True)
    sign_in(client, email=NEW["email"], password=NEW["password1"])
    assert is_signed_in(client)


def test_closed_sign_up_makes_no_account(client, settings):
    settings.SIGN_UP = "closed"
    assert client.post("/accounts/signup/", NEW).status_code == 200
    assert not User.objects.exists()


def test_a_host_makes_an_account_whose_keeper_chooses_the_password(client, capsys):
    call_command("create_keeper", "new@example.org")
    path = capsys.readouterr().out.split(": ")[-1].strip()
    form = client.get(path, follow=True)
    new = {"password1": PASSWORD, "password2": PASSWORD}
    client.post(form.request["PATH_INFO"], new)
    sign_in(client, email="new@example.org")
    assert is_signed_in(client)


@pytest.mark.parametrize("email", ["owner@example.org", "OWNER@example.org", "no mail"])
def test_an_account_that_can_not_be_made_is_refused_by_name(owner, email):
    with pytest.raises(CommandError):
        call_command("create_keeper", email)
