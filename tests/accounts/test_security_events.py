"""What happens to accounts is logged, and tells of nobody."""

import logging

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authenticator_added, authenticator_removed
from django.urls import reverse

from tests.accounts.test_sign_in import NEW, sign_in
from tests.factories import PASSWORD

ANOTHER = "quite-another-password-61"


@pytest.fixture
def events(db, caplog):
    """Return a function that gives the (event, account) logged so far."""
    caplog.set_level(logging.INFO, logger="reeflog.security")
    return lambda: [(r.event, r.account) for r in caplog.records if r.name == "reeflog.security"]


def test_signing_in_and_out_is_logged(client, owner, events):
    sign_in(client)
    client.post("/accounts/logout/")
    assert events() == [("signed in", owner.pk), ("signed out", owner.pk)]


def test_signing_up_is_logged_without_the_e_mail(client, events, caplog):
    client.post("/accounts/signup/", NEW)
    assert "signed up" in [event for event, _ in events()]
    assert NEW["email"] not in caplog.text


def test_a_changed_password_is_logged(client, owner, events):
    sign_in(client)
    passwords = {"oldpassword": PASSWORD, "password1": ANOTHER, "password2": ANOTHER}
    client.post(reverse("account_change_password"), passwords)
    assert ("password changed", owner.pk) in events()


def test_a_second_step_is_logged(owner, events):
    for signal in (authenticator_added, authenticator_removed):
        signal.send(sender=Authenticator, request=None, user=owner, authenticator=None)
    assert events() == [("second step added", owner.pk), ("second step removed", owner.pk)]
