"""The host's own pages: sound on a phone and a desk, and a link is copied by one touch."""

import itertools

import pytest
from django.contrib.auth.hashers import PBKDF2PasswordHasher
from django.urls import reverse

from tests.browser.conftest import DESK, PHONE, sign_in
from tests.browser.test_every_screen import faults_of
from tests.factories import PASSWORD, make_tank, make_user


@pytest.fixture
def host(transactional_db):
    user = make_user(email="host@example.org", is_staff=True, is_superuser=True)
    # The quick hashes of the tests are unknown to the served app.
    hasher = PBKDF2PasswordHasher()
    user.password = hasher.encode(PASSWORD, hasher.salt())
    user.save()
    return user


@pytest.mark.parametrize(
    ("scheme", "size"), list(itertools.product(["light", "dark"], [PHONE, DESK])), ids=str
)
def test_the_pages_of_a_host_are_sound(context, live_server, host, complaints, page, scheme, size):
    make_tank(make_user())
    sign_in(context, live_server.url, host)
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    page.goto(live_server.url + reverse("site_overview"))
    page.locator("#site-now").wait_for()
    assert page.locator("#site-needs").inner_text()
    assert faults_of(page) == [] and complaints == []
    page.goto(live_server.url + reverse("site_keeper"))
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Confirm").click()
    page.get_by_label("E-mail of the keeper").fill("host@example.org")
    page.get_by_role("button", name="Make the link").click()
    assert "/accounts/password/reset/key/" in page.get_by_label("Address of the link").input_value()
    assert faults_of(page) == [] and complaints == []
    page.get_by_role("button", name="Copy").click()
    page.locator("[data-copied]:not(:empty)").wait_for()
