"""The keeper's own settings."""

import pytest
from django.urls import reverse

from apps.accounts.models import User
from tests.factories import make_user

GOOD = {"display_name": "Otti", "units": "in", "theme": "dark", "time_zone": "Europe/Oslo",
        "currency": "NOK"}  # fmt: skip


def test_settings_are_saved(as_user, owner):
    as_user(owner).post("/settings/", GOOD)
    saved = User.objects.get(pk=owner.pk)
    assert {name: getattr(saved, name) for name in GOOD} == GOOD


def test_theme_colours_the_page(as_user, owner):
    client = as_user(owner)
    client.post("/settings/", GOOD)
    assert b'data-theme="dark"' in client.get("/settings/").content


def test_unknown_time_zone_is_refused_with_what_was_typed(as_user, owner):
    response = as_user(owner).post("/settings/", GOOD | {"time_zone": "Mars/Olympus"})
    assert response.status_code == 422 and b'value="Mars/Olympus"' in response.content


def test_refused_settings_do_not_colour_the_page(as_user, owner):
    response = as_user(owner).post("/settings/", GOOD | {"time_zone": "x"})
    assert b'data-theme="system"' in response.content


def test_settings_ask_a_visitor_to_sign_in(client, db):
    assert "/accounts/login/" in client.get("/settings/")["Location"]


def test_settings_lead_to_everything_about_signing_in(as_user, owner):
    page = as_user(owner).get("/settings/").content.decode()
    for name in ("account_email", "account_change_password", "mfa_index", "token_list"):
        assert reverse(name) in page


@pytest.mark.django_db
def test_a_keeper_without_a_name_is_never_shown_by_email():
    user = make_user(email="shy@example.org")
    assert "shy" not in str(user)
