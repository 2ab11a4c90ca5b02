"""The front door and the pages nobody hopes to see."""

import pytest
from django.test import Client
from django.urls import reverse


@pytest.fixture
def boom(settings):
    settings.ROOT_URLCONF = "tests.failing_urls"


def test_visitor_is_told_what_it_is(client, db):
    page = client.get("/").content.decode()
    assert "PAR" in page and reverse("account_signup") in page


def test_keeper_goes_straight_to_tanks(as_user, owner):
    assert as_user(owner).get("/")["Location"] == reverse("tank_list")


def test_not_found_page_tells_why_it_may_be(client, db):
    response = client.get("/nothing-here/")
    assert response.status_code == 404 and "not be shared with you" in response.content.decode()


def test_forbidden_page_tells_who_decides(as_user, viewer, tank):
    response = as_user(viewer).get(reverse("tank_edit", args=[tank.pk]))
    assert response.status_code == 403 and "owner decides" in response.content.decode()


def test_form_address_opened_as_a_page_shows_a_way_on(as_user, owner, tank):
    address = reverse("share_link_new", args=[tank.pk])
    response = as_user(owner).get(address, HTTP_ACCEPT="text/html")
    assert (response.status_code, response["Allow"]) == (405, "POST")
    assert reverse("home") in response.content.decode()


def test_broken_page_says_that_typed_things_are_kept(db, boom):
    client = Client(raise_request_exception=False)
    response = client.get("/boom/")
    assert response.status_code == 500 and "still on this device" in response.content.decode()


def test_stale_form_gets_our_own_page(owner):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    response = client.post("/settings/", {})
    assert response.status_code == 403 and "once more" in response.content.decode()
