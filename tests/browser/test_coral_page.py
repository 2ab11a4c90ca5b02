"""A coral's page on a phone: what a keeper reads is counted, on the demo and over four years."""

import datetime as dt

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from apps.corals.models import Coral, HealthNote
from reeflog.demo import load_demo
from tests.browser.conftest import DESK, PHONE
from tests.browser.page_words import links_shown, words_shown
from tests.factories import (
    make_coral,
    make_light_change,
    make_note,
    make_survey,
    make_tank,
    make_user,
    make_water_event,
)

HEIGHT_MAX, WORDS_MAX, LINKS_MAX = 2500, 150, 30


@pytest.fixture
def phone(page, live_server):
    page.set_viewport_size(PHONE)
    return page


def sign_in(page, user, live_server):
    client = Client()
    client.force_login(user)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])


def open_coral(page, coral, live_server):
    page.goto(live_server.url + reverse("coral_detail", args=[coral.pk]))
    page.wait_for_load_state("networkidle")


def assert_is_short(page):
    assert page.evaluate("document.documentElement.scrollHeight") <= HEIGHT_MAX
    assert words_shown(page) <= WORDS_MAX
    assert links_shown(page) <= LINKS_MAX


def heavy_coral(tank):
    """Return a coral of four years with a note a week, a change of light a month, much water."""
    days = 4 * 365
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=days))
    coral = make_coral(tank, since=tank.today() - dt.timedelta(days=days))
    for back in range(0, days, 30):
        moment = timezone.now() - dt.timedelta(days=back, hours=1)
        make_light_change(tank, happened_at=moment, factor=1.05 if back % 60 else 0.95)
        make_water_event(tank, happened_at=moment)
    signs = list(HealthNote.Seen)
    HealthNote.objects.bulk_create(
        HealthNote(
            coral=coral,
            noted_on=tank.today() - dt.timedelta(days=back),
            condition=4,
            seen=signs[back % len(signs)],
            text="Polyps a little less far out than in the week before, the base as it was.",
        )
        for back in range(0, days, 7)
    )
    return coral


def test_busiest_coral_of_the_demo_is_read_in_three_screens(
    transactional_db, phone, live_server, complaints
):
    sign_in(phone, load_demo(), live_server)
    # Fourteen notes with photos, colours measured, a size and a case that is over.
    open_coral(phone, Coral.objects.get(name="Cream staghorn"), live_server)
    assert_is_short(phone)
    # What troubled it is over, and stays within reach.
    expect(phone.locator("#notes a[href*='/case/']")).to_have_count(1)
    expect(phone.locator(".timeline__plot--dli, .timeline__plot--paleness")).to_have_count(2)
    assert complaints == []


def test_coral_of_years_is_as_short(transactional_db, phone, live_server, complaints):
    tank = make_tank(make_user(email="owner@example.org"))
    sign_in(phone, tank.owner, live_server)
    open_coral(phone, heavy_coral(tank), live_server)
    assert_is_short(phone)
    assert complaints == []


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_page_is_sound_light_and_heavy(
    transactional_db, phone, live_server, complaints, size, scheme
):
    tank = make_tank(make_user(email="owner@example.org"))
    sign_in(phone, tank.owner, live_server)
    phone.set_viewport_size(size)
    phone.emulate_media(color_scheme=scheme)
    for coral in (make_coral(tank, name="Fresh frag", at_cm=None), heavy_coral(tank)):
        open_coral(phone, coral, live_server)
        assert [v["id"] for v in Axe().run(phone).response["violations"]] == []
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert complaints == []


def test_lines_of_light_changes_run_through_all_plots(transactional_db, phone, live_server):
    tank = make_tank(make_user(email="owner@example.org"))
    sign_in(phone, tank.owner, live_server)
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=80))
    coral = make_coral(tank)
    make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=10))
    for days, condition in ((20, 5), (3, 3)):
        make_note(coral, condition=condition, noted_on=tank.today() - dt.timedelta(days=days))
    open_coral(phone, coral, live_server)
    line = phone.locator(".timeline__event--light").bounding_box()
    for part in (".timeline__plot--par", ".timeline__plot--condition", ".row--note-paling"):
        box = phone.locator(part).bounding_box()
        assert line["y"] < box["y"] and line["y"] + line["height"] >= box["y"] + box["height"] / 2
