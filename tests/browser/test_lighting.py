"""The light on a phone: a day curve drawn with a finger or by keys."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from apps.lighting.models import DayCurve
from tests.browser.conftest import PHONE
from tests.factories import make_tank, make_user


@pytest.fixture
def tank(transactional_db):
    return make_tank(make_user(email="owner@example.org"))


@pytest.fixture
def phone(page, tank, live_server):
    client = Client()
    client.force_login(tank.owner)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page.set_viewport_size(PHONE)
    return page


def drag(page, thing, *, by_x, by_y):
    """Drag the middle of a thing by pixels."""
    thing.scroll_into_view_if_needed()
    box = thing.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by_x, y + by_y, steps=4)
    page.mouse.up()


def found_by_axe(page):
    return [found["id"] for found in Axe().run(page).response["violations"]]


def fits(page):
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_day_curve_is_drawn_by_keys_and_finger(phone, live_server, tank, complaints):
    phone.goto(live_server.url + reverse("day_curve_new", args=[tank.pk]))
    phone.get_by_label("What you call it").fill("Summer")
    second = phone.locator(".curve__handle").nth(1)
    second.focus()
    for key in ("ArrowDown", "Shift+ArrowDown", "ArrowLeft"):
        phone.keyboard.press(key)
    expect(phone.locator("#day-figures")).to_contain_text("100 %")
    drag(phone, phone.locator(".curve__handle").nth(2), by_x=0, by_y=40)
    expect(phone.locator("#day-figures")).to_contain_text("89 %")
    assert found_by_axe(phone) == [] and fits(phone)
    phone.get_by_role("button", name="Save", exact=True).last.click()
    expect(phone.get_by_role("heading", name="Summer")).to_be_visible()
    points = DayCurve.objects.get().points
    # From 11:00 and 100 %: one percent, ten percent and five minutes by keys.
    assert points[1] == [655, 89]
    # The finger went straight down: same time within the five minutes of a drag, dimmer.
    assert abs(points[2][0] - 1140) <= 5 and 50 < points[2][1] < 85
    assert found_by_axe(phone) == [] and fits(phone)
    assert complaints == []
