"""The front door and the pages nobody hopes to see."""

import pytest
from django.test import Client
from django.urls import reverse

from reeflog.front_map import SHOWN, front_map, front_water, true_light


@pytest.fixture
def boom(settings):
    settings.ROOT_URLCONF = "tests.failing_urls"


def test_visitor_sees_a_map_and_the_ways_in(client, db):
    response = client.get("/")
    page = response.content.decode()
    assert reverse("account_signup") in page and reverse("account_login") in page
    assert page.count('class="map-pin') == len(SHOWN)


def test_map_of_the_front_page_is_of_real_light():
    """Read off the demo's true light at the same spots, which the map never saw."""
    water, lit = front_water(), front_map().pin_lights
    spots = [(light.pin.x_cm, light.pin.y_cm, light.pin.depth_cm) for light in lit]
    truth = true_light(spots, water)
    off = [abs(light.par_umol / true - 1) for light, true in zip(lit, truth, strict=True)]
    # The meter's noise is 6 % a reading, and one bad corner may be off by some more.
    assert max(off) < 0.15


def test_front_page_reads_no_rows(client, django_assert_num_queries, db):
    client.get("/")
    with django_assert_num_queries(0):
        client.get("/")


def test_keeper_goes_straight_to_tanks(as_user, owner):
    assert as_user(owner).get("/")["Location"] == reverse("tank_list")


def test_not_found_page_shows_a_way_on(client, db):
    response = client.get("/nothing-here/")
    assert response.status_code == 404 and f'href="{reverse("home")}"' in response.content.decode()
    assert [template.name for template in response.templates][:1] == ["404.html"]


def test_forbidden_page_is_our_own(as_user, viewer, tank):
    response = as_user(viewer).get(reverse("tank_edit", args=[tank.pk]))
    assert response.status_code == 403 and response.templates[0].name == "403.html"


def test_form_address_opened_as_a_page_shows_a_way_on(as_user, owner, tank):
    address = reverse("share_link_new", args=[tank.pk])
    response = as_user(owner).get(address, HTTP_ACCEPT="text/html")
    assert (response.status_code, response["Allow"]) == (405, "POST")
    assert reverse("home") in response.content.decode()


def test_broken_page_is_our_own(db, boom):
    client = Client(raise_request_exception=False)
    response = client.get("/boom/")
    assert response.status_code == 500 and response.templates[0].name == "500.html"


def test_stale_form_gets_our_own_page(owner):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    response = client.post("/settings/", {})
    assert response.status_code == 403 and response.templates[0].name == "403_csrf.html"
