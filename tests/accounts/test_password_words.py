"""Which passwords are refused: what anyone guesses of this site, and nothing for its signs."""

import time

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.cache import cache
from django.core.exceptions import ValidationError

from apps.accounts.models import User
from tests.accounts.test_sign_in import NEW


def refusals(password, **keeper):
    """Return the codes with which a password is refused for a keeper."""
    try:
        validate_password(password, User(**keeper))
    except ValidationError as problem:
        return [error.code for error in problem.error_list]
    return []


# --- Words of the site (6.1.2, 6.2.11) ------------------------------------------------------
@pytest.mark.parametrize(
    "password",
    [
        "reeflog!", "Reeflog2026", "coral-reef", "C0r4lR33f", "newreeftank", "aquarium",
        "saltwater#1", "1987-reef-tank", "My Reef Tank", "$altw@ter", "AdminAdmin1", "reef....tank",
    ],
)  # fmt: skip
def test_words_of_the_site_alone_are_refused(password):
    assert refusals(password) == ["password_of_site_words"]


@pytest.mark.parametrize(
    "password",
    [
        "my new reef tank",
        "reef83749201",
        "coralreefgrotesque",
        "reef tank at Joosten’s",
        "treefrogs",
    ],
)
def test_words_of_the_site_among_others_are_taken(password):
    assert refusals(password) == []


def test_the_name_of_a_host_is_a_word_of_its_site(settings):
    assert refusals("brackenmoor7") == []
    settings.ALLOWED_HOSTS = ["reefs.brackenmoor.example"]
    assert refusals("brackenmoor7") == ["password_of_site_words"]


@pytest.mark.parametrize("name", ["Wilhelmina Joosten", "wilhelmina"])
def test_a_keepers_own_name_and_address_are_refused(name):
    assert refusals("wilhelmina1", display_name=name) == ["password_too_similar"]
    assert refusals("wilhelmina1", email="wilhelmina@example.org") == ["password_too_similar"]
    assert refusals("wilhelmina1", email="jo@example.org", display_name="Jo") == []


def test_the_name_typed_at_sign_up_counts_too(client, db):
    cache.clear()
    fields = NEW | {"display_name": "Wilhelmina", "password1": "wilhelmina1"}
    page = client.post("/accounts/signup/", fields)
    assert list(page.context["form"].errors) == ["password1"] and not User.objects.exists()
    client.post("/accounts/signup/", fields | {"display_name": "Jo"})
    assert User.objects.exists()


# --- Any signs, but for what is guessed first (6.2.5) ---------------------------------------
@pytest.mark.parametrize(
    "password",
    ["58203947", "83910275563820", "kqzvhwpf", "KQZVHWPF", "%&§$#!?=", "q z   !x",
     "水槽の中の光と影", "\N{FISH}\N{OX}\N{CRAB}\N{SQUID}\N{SHRIMP}\N{WHALE}\N{OX}\N{SHARK}"],
)  # fmt: skip
def test_any_kind_of_signs_is_enough(password):
    assert refusals(password) == []


@pytest.mark.parametrize(
    "password",
    ["19870412", "12041987", "04121987", "12.04.1987", "12/04/87", "2026-11-30", "1.12.2001",
     "23456789", "98765432", "cdefghijk", "zyxwvuts", "77777777", "12121212", "xY7qxY7q",
     "abcabcabc"],
)  # fmt: skip
def test_dates_runs_and_repetitions_are_refused(password):
    assert "password_is_pattern" in refusals(password) or "password_too_common" in refusals(
        password
    )


@pytest.mark.parametrize("password", ["18990412", "21000412", "19871332", "xY7qpxY7qp", "2345678x"])
def test_what_only_looks_like_one_is_taken(password):
    assert refusals(password) == []


def test_a_long_password_is_judged_at_once():
    began = time.process_time()
    assert refusals("reef1" * 3 + "q" + "4r33f" * 5000) == []
    # A few hundredths of a second; far more would let one form hold a worker.
    assert time.process_time() - began < 1.0
