"""What a session is worth: a new one at each sign-in, none after sign-out, and no code twice."""

import pytest
from allauth.mfa.totp.internal import auth
from django.contrib.auth import get_user, password_validation
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from apps.accounts.models import User
from apps.accounts.password_links import password_path
from tests.accounts.test_inviting import choose
from tests.accounts.test_sign_in import NEW, is_signed_in, sign_in

COMMON_MIN = 3000


@pytest.fixture(autouse=True)
def fresh_counts(db):
    cache.clear()


def test_signing_in_takes_a_new_session(client, owner):
    client.post("/accounts/login/", {"login": owner.email, "password": "wrong"})
    planted = client.session
    planted["planted"] = True
    planted.save()
    client.cookies["sessionid"] = planted.session_key
    sign_in(client)
    assert is_signed_in(client) and client.session.session_key != planted.session_key
    assert not Session.objects.filter(pk=planted.session_key).exists()


def test_a_session_that_was_ended_opens_nothing(client, owner):
    sign_in(client)
    key = client.session.session_key
    client.post("/accounts/logout/")
    thief = Client()
    thief.cookies["sessionid"] = key
    assert not get_user(thief).is_authenticated
    assert not Session.objects.filter(pk=key).exists()


def test_a_disabled_account_is_signed_out_at_once(client, owner):
    sign_in(client)
    User.objects.filter(pk=owner.pk).update(is_active=False)
    assert client.get(reverse("tank_list")).status_code == 302


def test_no_script_reads_the_session_and_no_other_site_sends_it(client, owner):
    cookie = sign_in(client).cookies["sessionid"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"


def test_a_code_opens_once(owner):
    secret = auth.generate_totp_secret()
    auth.TOTP.activate(owner, secret)
    counter = next(auth.yield_hotp_counters_from_time())
    code = auth.format_hotp_value(auth.hotp_value(secret, counter))
    opened = []
    for client in (Client(), Client()):
        sign_in(client)
        client.post(reverse("mfa_authenticate"), {"code": code})
        opened.append(is_signed_in(client))
    assert opened == [True, False]


def test_a_new_password_by_a_link_goes_around_no_second_step(client, owner):
    auth.TOTP.activate(owner, auth.generate_totp_secret())
    choose(client, password_path(owner), "a-password-after-this-58")
    assert not is_signed_in(client)
    answer = sign_in(client, password="a-password-after-this-58")
    assert answer["Location"] == reverse("mfa_authenticate") and not is_signed_in(client)


@pytest.mark.parametrize(
    "password", ["correct horse battery staple", "lang " * 20 + "genug", "größer 水槽 ünd mehr"]
)
def test_long_and_odd_passwords_are_taken_as_they_are(client, password):
    client.post("/accounts/signup/", NEW | {"password1": password})
    user = User.objects.get(email=NEW["email"])
    assert user.check_password(password)
    assert not user.check_password(password.upper()) and not user.check_password(password[:-1])


def test_thousands_of_common_passwords_are_refused():
    (common,) = [
        one
        for one in password_validation.get_default_password_validators()
        if isinstance(one, password_validation.CommonPasswordValidator)
    ]
    long_enough = sorted(word for word in common.passwords if len(word) >= 8)
    assert len(long_enough) >= COMMON_MIN
    for word in long_enough[:: len(long_enough) // 20]:
        with pytest.raises(ValidationError):
            password_validation.validate_password(word)


@pytest.mark.parametrize(("length", "is_taken"), [(7, False), (8, True)])
def test_a_password_has_eight_characters_at_least(length, is_taken):
    word = "kR7-wq2Zt9"[:length]
    if is_taken:
        password_validation.validate_password(word)
    else:
        with pytest.raises(ValidationError):
            password_validation.validate_password(word)
