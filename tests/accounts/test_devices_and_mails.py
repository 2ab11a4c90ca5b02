"""Where a keeper is signed in, ending it elsewhere, and mails on what a thief would change."""

import logging
import re
from urllib.parse import urlencode

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.totp.internal import auth
from django.contrib.auth import get_user
from django.contrib.auth.models import Permission
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from knox.models import AuthToken

from apps.accounts.models import User
from tests.accounts.test_sign_in import is_signed_in, sign_in
from tests.factories import PASSWORD, make_user

ANOTHER = "quite-another-password-61"


@pytest.fixture(autouse=True)
def fresh_counts(db):
    cache.clear()


@pytest.fixture
def phone(owner):
    client = Client(headers={"User-Agent": "Phone of Ottilie"})
    sign_in(client)
    return client


@pytest.fixture
def desk(owner):
    client = Client(headers={"User-Agent": "Desk of Ottilie"})
    sign_in(client)
    return client


def test_every_device_is_listed(phone, desk):
    page = desk.get(reverse("usersessions_list"))
    assert {one.user_agent for one in page.context["sessions"]} == {
        "Phone of Ottilie", "Desk of Ottilie",
    }  # fmt: skip


def confirm(client, path="", **words):
    """Type the password on the page that asks for it again, on the way to a path."""
    query = f"?{urlencode({'next': path})}" if path else ""
    return client.post(reverse("account_reauthenticate") + query, {"password": PASSWORD} | words)


def test_others_are_signed_out_and_this_one_is_not(phone, desk):
    confirm(desk)
    desk.post(reverse("usersessions_list"))
    assert get_user(desk).is_authenticated and not get_user(phone).is_authenticated


def test_nobody_sees_or_ends_anothers(phone, as_user, stranger):
    other = as_user(stranger)
    assert other.get(reverse("usersessions_list")).context["sessions"] == []
    confirm(other)
    other.post(reverse("usersessions_list"))
    assert get_user(phone).is_authenticated


def test_a_visitor_is_sent_to_sign_in(client, db):
    assert "/accounts/login/" in client.get(reverse("usersessions_list"))["Location"]


def change_password(client):
    passwords = {"oldpassword": PASSWORD, "password1": ANOTHER, "password2": ANOTHER}
    return client.post(reverse("account_change_password"), passwords)


def test_a_new_password_signs_out_elsewhere(phone, desk):
    change_password(desk)
    assert not get_user(phone).is_authenticated


@pytest.mark.parametrize("sends", [True, False])
def test_a_changed_password_is_told_by_mail_where_mails_are_sent(desk, owner, settings, sends):
    settings.ACCOUNT_EMAIL_NOTIFICATIONS = sends
    EmailAddress.objects.create(user=owner, email=owner.email, verified=True, primary=True)
    change_password(desk)
    assert [message.to for message in mail.outbox] == ([[owner.email]] if sends else [])
    assert ANOTHER not in "".join(message.body for message in mail.outbox)


@pytest.mark.parametrize("sends", [True, False])
def test_a_changed_email_is_told_to_the_one_before(desk, owner, settings, sends):
    settings.ACCOUNT_EMAIL_NOTIFICATIONS = sends
    EmailAddress.objects.create(user=owner, email=owner.email, verified=True, primary=True)
    confirm(desk)
    desk.post(reverse("account_email"), {"action_add": "", "email": "after@example.org"})
    (confirmation,) = mail.outbox
    path = re.search(r"/accounts/confirm-email/[^\s]+", confirmation.body)[0]
    mail.outbox.clear()
    desk.post(path)
    assert User.objects.get(pk=owner.pk).email == "after@example.org"
    told = [message.to for message in mail.outbox]
    assert (["owner@example.org"] in told) is sends


def second_step(client):
    """Turn a second step on as its keeper does; return what is asked to turn it off."""
    confirm(client)
    secret = client.get(reverse("mfa_activate_totp")).context["form"].secret
    code = auth.format_hotp_value(
        auth.hotp_value(secret, next(auth.yield_hotp_counters_from_time()))
    )
    client.post(reverse("mfa_activate_totp"), {"code": code})
    return reverse("mfa_deactivate_totp")


@pytest.mark.parametrize("sends", [True, False])
def test_a_second_step_that_comes_or_goes_is_told_by_mail(
    transactional_db, desk, owner, settings, sends
):
    settings.ACCOUNT_EMAIL_NOTIFICATIONS = sends
    EmailAddress.objects.create(user=owner, email=owner.email, verified=True, primary=True)
    off = second_step(desk)
    assert owner.authenticator_set.filter(type="totp").exists()
    came = len(mail.outbox)
    desk.post(off)
    assert not owner.authenticator_set.filter(type="totp").exists()
    assert (came > 0, len(mail.outbox) > came) == (sends, sends)
    assert all(message.to == [owner.email] for message in mail.outbox)


def test_a_second_step_is_changed_only_after_the_password(phone, desk, owner):
    asked = desk.post(reverse("mfa_activate_totp"), {"code": "123456"})
    assert asked["Location"].startswith(reverse("account_reauthenticate"))
    off = second_step(desk)
    assert phone.post(off)["Location"].startswith("/accounts/")
    assert owner.authenticator_set.filter(type="totp").exists()


NEW_EMAIL = {"action_add": "", "email": "after@example.org"}


@pytest.mark.parametrize("name", ["account_email", "usersessions_list"])
def test_an_open_screen_takes_no_account_over(desk, phone, owner, name):
    """Signed in is not enough for what decides who gets in; what was sent waits meanwhile."""
    path = reverse(name)
    assert desk.get(path).status_code == 200
    way = desk.post(path, NEW_EMAIL)["Location"]
    assert way.startswith(reverse("account_reauthenticate"))
    confirm(desk, path, password="wrong")
    assert get_user(phone).is_authenticated and mail.outbox == []
    assert not EmailAddress.objects.filter(email=NEW_EMAIL["email"]).exists()
    assert confirm(desk, path).status_code == 302
    if name == "account_email":
        assert mail.outbox[0].to == [NEW_EMAIL["email"]]
    else:
        assert not get_user(phone).is_authenticated


# --- What a browser may keep ----------------------------------------------------------------
@pytest.mark.parametrize("path", ["/tanks/", "/settings/", "/api/v1/tanks/", "/accounts/login/"])
def test_private_pages_and_the_api_are_kept_nowhere(as_user, owner, path):
    stated = as_user(owner).get(path)["Cache-Control"].split(", ")
    assert {"private", "no-store"} <= set(stated)


def test_a_refusal_of_the_api_is_kept_nowhere(client, db):
    assert client.get("/api/v1/tanks/")["Cache-Control"] == "private, no-store"


def test_what_says_for_itself_how_long_it_stays_is_left_alone(client, db):
    assert "no-cache" in client.get(reverse("service_worker"))["Cache-Control"]


def test_a_page_that_asked_for_no_session_is_left_alone(client, db):
    assert not client.get("/robots.txt").has_header("Cache-Control")


# --- The site administration ----------------------------------------------------------------
def test_the_administration_asks_at_the_throttled_sign_in(client, db):
    answer = client.get("/admin/", follow=True)
    assert answer.request["PATH_INFO"] == "/accounts/login/"


def test_a_guesser_at_the_administration_is_refused_too(owner):
    owner.is_staff = owner.is_superuser = True
    owner.save()
    guesser = Client()
    for _ in range(5):
        sign_in(guesser, password="wrong", next="/admin/")
    sign_in(guesser, next="/admin/")
    assert not is_signed_in(guesser)


def end_by_the_host(client, *keepers):
    keys = [keeper.pk for keeper in keepers]
    words = {"action": "sign_out_everywhere", "_selected_action": keys}
    return client.post(reverse("admin:accounts_user_changelist"), words)


@pytest.fixture
def host(db):
    return make_user(email="host@example.org", is_staff=True, is_superuser=True)


def test_a_host_ends_all_that_opens_one_account(
    phone, desk, as_user, owner, stranger, host, caplog
):
    caplog.set_level(logging.INFO, logger="reeflog.security")
    other, admin = as_user(stranger), as_user(host)
    tokens = {user: AuthToken.objects.create(user)[1] for user in (owner, stranger)}
    assert end_by_the_host(admin, owner).status_code == 302
    assert [get_user(one).is_authenticated for one in (phone, desk, other, admin)] == [
        False, False, True, True,
    ]  # fmt: skip
    answers = {
        user: Client().get("/api/v1/tanks/", headers={"Authorization": f"Bearer {token}"})
        for user, token in tokens.items()
    }
    assert (answers[owner].status_code, answers[stranger].status_code) == (401, 200)
    assert ("sessions and tokens ended by the host", owner.pk) in [
        (getattr(one, "event", ""), getattr(one, "account", 0)) for one in caplog.records
    ]
    # The account itself is as it was.
    sign_in(phone)
    assert get_user(phone) == owner


def test_a_host_ends_the_sessions_of_all(phone, as_user, owner, stranger, host):
    other = as_user(stranger)
    end_by_the_host(as_user(host), owner, stranger)
    assert not get_user(phone).is_authenticated and not get_user(other).is_authenticated


def test_whoever_may_only_look_at_accounts_ends_none(phone, as_user, owner):
    clerk = make_user(is_staff=True)
    clerk.user_permissions.add(Permission.objects.get(codename="view_user"))
    end_by_the_host(as_user(clerk), owner)
    assert get_user(phone).is_authenticated


def test_a_keeper_gets_no_further_there(as_user, owner):
    assert as_user(owner).get("/admin/").status_code in (302, 403)
