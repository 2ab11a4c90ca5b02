"""Signing up, in and out; both doors are throttled."""

import re

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.core.cache import cache
from django.template.loader import render_to_string
from django.urls import reverse

from apps.accounts.models import User
from tests.factories import PASSWORD, make_user

LOGIN = "/accounts/login/"
NEW = {"email": "new@example.org", "password1": "another-password-for-tests-93", "units": "in"}


@pytest.fixture(autouse=True)
def fresh_counts(db):
    cache.clear()


def sign_in(client, email="owner@example.org", password=PASSWORD, **more):
    return client.post(LOGIN, {"login": email, "password": password, **more})


def is_signed_in(client):
    return "_auth_user_id" in client.session


def test_sign_up_keeps_units_and_time_zone(client):
    client.post("/accounts/signup/", NEW | {"time_zone": "Europe/Berlin", "display_name": "Nele"})
    user = User.objects.get(email="new@example.org")
    assert (user.units, user.time_zone, user.display_name) == ("in", "Europe/Berlin", "Nele")


def test_sign_up_survives_a_browser_with_an_odd_time_zone(client):
    client.post("/accounts/signup/", NEW | {"time_zone": "Mars/Olympus"})
    assert User.objects.get(email="new@example.org").time_zone == "UTC"


def test_sign_up_signs_in_and_goes_to_tanks(client):
    response = client.post("/accounts/signup/", NEW)
    assert response["Location"] == reverse("tank_list") and is_signed_in(client)


def test_sign_up_refuses_a_weak_password_and_keeps_the_rest(client):
    response = client.post("/accounts/signup/", NEW | {"password1": "12345678"})
    assert b"new@example.org" in response.content and b"field__error" in response.content


def test_sign_up_refuses_the_same_email_in_capitals(client, owner):
    client.post("/accounts/signup/", NEW | {"email": "OWNER@example.org"})
    assert User.objects.count() == 1


def test_sign_in_by_email_in_any_case(client, owner):
    sign_in(client, email="Owner@Example.org")
    assert is_signed_in(client)


def test_sign_in_goes_on_to_next(client, owner):
    response = sign_in(client, next="/settings/")
    assert response["Location"] == "/settings/"


def test_sign_in_never_goes_to_another_site(client, owner):
    response = sign_in(client, next="https://evil.example/")
    assert "evil" not in response["Location"]


def test_sign_in_page_of_a_guarded_page_carries_next(client, owner):
    response = client.get("/settings/", follow=True)
    assert b'name="next" value="/settings/"' in response.content


def test_sign_out(as_user, owner):
    client = as_user(owner)
    client.post("/accounts/logout/")
    assert not is_signed_in(client)


def fail(client, times):
    for _ in range(times):
        sign_in(client, password="wrong")


def test_right_password_opens_after_four_failures(client, owner):
    fail(client, 4)
    sign_in(client)
    assert is_signed_in(client)


def test_right_password_is_refused_after_too_many_failures(client, owner):
    fail(client, 8)
    response = sign_in(client)
    assert not is_signed_in(client)
    assert "Too many" in response.content.decode()


def test_admin_door_is_the_throttled_door(client):
    make_user(email="admin@example.org", is_staff=True, is_superuser=True)
    for _ in range(8):
        sign_in(client, email="admin@example.org", password="wrong")
    right = {"username": "admin@example.org", "password": PASSWORD}
    response = client.post("/admin/login/?next=/admin/", right)
    assert response["Location"].startswith(LOGIN) and not is_signed_in(client)


def test_admin_opens_for_staff_after_signing_in(client):
    make_user(email="admin@example.org", is_staff=True, is_superuser=True)
    response = sign_in(client, email="admin@example.org", next="/admin/")
    assert client.get(response["Location"]).status_code == 200


def test_admin_is_refused_to_keepers(as_user, owner):
    assert as_user(owner).get("/admin/login/").status_code == 403


def test_too_many_sign_ups_get_our_own_page(client):
    for _ in range(21):
        response = client.post("/accounts/signup/", NEW | {"password1": "1"})
    assert response.status_code == 429 and b"reeflog" in response.content


def test_password_reset_by_mail(client, owner):
    client.post("/accounts/password/reset/", {"email": owner.email})
    link = re.search(r"http://\S+/accounts/password/reset/key/\S+", mail.outbox[0].body).group()
    page = client.get(link, follow=True)
    new = {"password1": "a-new-password-for-tests-64", "password2": "a-new-password-for-tests-64"}
    client.post(page.redirect_chain[-1][0], new)
    sign_in(client, password="a-new-password-for-tests-64")
    assert is_signed_in(client)


@pytest.mark.parametrize("address", ["", "done/"])
def test_where_no_mail_goes_out_it_says_who_helps(client, settings, address):
    settings.MAILS = "dropped"
    page = client.get(f"/accounts/password/reset/{address}").content.decode()
    assert reverse("privacy") in page.split("<main")[1] and 'name="email"' not in page


def test_password_reset_answers_the_same_for_strangers(client, owner):
    answers = []
    for email in (owner.email, "nobody@example.org"):
        answers.append(client.post("/accounts/password/reset/", {"email": email}, follow=True))
    known, unknown = (a.content.decode().split("<main")[1].split("</main")[0] for a in answers)
    assert known == unknown


def test_password_change_asks_for_the_old_one(as_user, owner):
    new = {"password1": "a-new-password-for-tests-64", "password2": "a-new-password-for-tests-64"}
    as_user(owner).post("/accounts/password/change/", new | {"oldpassword": "wrong"})
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)


def test_new_email_counts_only_after_its_link_was_opened(as_user, owner):
    EmailAddress.objects.create(user=owner, email=owner.email, primary=True, verified=True)
    client = as_user(owner)
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    client.post("/accounts/email/", {"action_add": "", "email": "fresh@example.org"})
    assert User.objects.get(pk=owner.pk).email == "owner@example.org"
    link = re.search(r"http://\S+/accounts/confirm-email/\S+", mail.outbox[0].body).group()
    client.post(link)
    assert User.objects.get(pk=owner.pk).email == "fresh@example.org"


@pytest.mark.parametrize(
    "path", ["email", "password/change", "2fa", "2fa/recovery-codes/generate", "logout"]
)
def test_account_pages_wear_our_look(client, owner, path):
    # Signed in through the door: some pages ask when the keeper last did that.
    sign_in(client)
    page = client.get(f"/accounts/{path}/", follow=True).content.decode()
    assert 'class="top__name"' in page and "css/accounts/account.css" in page


def test_two_step_sign_in_asks_for_a_code(client, owner):
    from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret

    TOTP.activate(owner, generate_totp_secret())
    response = sign_in(client)
    assert response["Location"] == reverse("mfa_authenticate") and not is_signed_in(client)


def test_two_step_sign_in_opens_with_the_code(client, owner):
    from allauth.mfa.totp.internal import auth

    secret = auth.generate_totp_secret()
    auth.TOTP.activate(owner, secret)
    sign_in(client)
    code = auth.format_hotp_value(
        auth.hotp_value(secret, next(auth.yield_hotp_counters_from_time()))
    )
    client.post(reverse("mfa_authenticate"), {"code": code})
    assert is_signed_in(client)


@pytest.mark.parametrize(
    "name", ["password_reset_key", "account_already_exists", "unknown_account"]
)
def test_mails_are_our_own_and_name_the_way_on(name):
    ways = {"password_reset_url": "http://x/reset", "signup_url": "http://x/signup"}
    body = render_to_string(f"account/email/{name}_message.txt", {"email": "a@example.org"} | ways)
    assert any(way in body for way in ways.values()) and "ignore this mail" in body
