"""What a link opens, as a visitor's phone meets it: light, map first, right with and without JS."""

import datetime as dt
import gzip
import re
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import expect

from apps.sharing.models import Comment, ShareLink
from apps.tanks.models import Tank
from reeflog.demo import load_demo
from tests.browser.conftest import PHONE, sign_in
from tests.factories import make_user
from tests.sharing.links import make_link

pytestmark = pytest.mark.django_db(transaction=True)

# HTML, styles, scripts and the first picture, as they go over the wire [bytes].
WEIGHT_MAX = 120_000
MAP_Y_MAX = 260
COUNTED = ("document", "stylesheet", "script", "image")


@pytest.fixture
def link():
    """Return the address of a link that shows all there is, with comments, on the demo's tank."""
    load_demo()
    shown = {"show_notes": True, "show_photos": True, "may_comment": True}
    made, token = make_link(Tank.objects.order_by("pk").first(), **shown)
    place = {"x_cm": 10, "y_cm": 12, "depth_cm": 18}
    Comment.objects.create(link=made, author=make_user(), text="Bright here", **place)
    return f"/s/{token}/"


@pytest.fixture
def phone(new_context):
    return new_context(viewport=PHONE)


def weights(page, address):
    """Return [(kind, path, gzipped bytes)] of all that a page fetches."""
    answers = []
    page.on("response", lambda answer: answers.append(answer))
    page.goto(address)
    page.wait_for_load_state("networkidle")
    return [
        (one.request.resource_type, urlsplit(one.url).path, len(gzip.compress(one.body())))
        for one in answers
    ]


def test_a_visit_is_light_and_stays_here(phone, live_server, link):
    page = phone.new_page()
    fetched = weights(page, live_server.url + link)
    weight = sum(size for kind, _, size in fetched if kind in COUNTED)
    print(f"{weight} bytes of page, styles, scripts and pictures")
    assert 20_000 < weight <= WEIGHT_MAX
    assert not [path for _, path, _ in fetched if "htmx" in path]
    assert phone.cookies() == []


@pytest.mark.parametrize("name", ["Harbour cube", "The long shallow frag tank in the cellar"])
def test_the_map_comes_first_and_nothing_is_wrong_with_the_page(phone, live_server, link, name):
    Tank.objects.update(name=name)
    page = phone.new_page()
    told = []
    page.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    page.goto(live_server.url + link)
    assert page.locator("#map-plan svg").bounding_box()["y"] < MAP_Y_MAX
    assert not Axe().run(page).response["violations"]
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert told == []


def test_the_slider_redraws_the_map_and_its_numbers(phone, live_server, link):
    page = phone.new_page()
    page.goto(live_server.url + link)
    before = page.locator("#map-plane-facts dd").first.inner_text()
    page.get_by_role("spinbutton", name="Depth").fill("35")
    page.get_by_role("spinbutton", name="Depth").press("Enter")
    expect(page.locator("#map-plan .map-caption").first).to_contain_text("35 cm")
    assert page.locator("#map-plane-facts dd").first.inner_text() != before
    assert "depth=35cm" in page.url
    page.get_by_role("application").click()
    expect(page.locator("#map-readout")).to_contain_text("PAR")


def test_a_lost_line_is_said_and_the_map_stays(phone, live_server, link):
    page = phone.new_page()
    page.goto(live_server.url + link)
    phone.set_offline(True)
    page.get_by_role("slider", name="Depth").fill("30")
    expect(page.locator("#notice [role=alert]")).to_be_visible()
    assert page.locator("#map-plan svg").is_visible()


def test_without_scripts_a_form_chooses_the_depth(new_context, live_server, link):
    page = new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(live_server.url + link)
    assert not page.locator(".map-slide__range").is_visible()
    page.get_by_role("spinbutton", name="Depth").fill("35")
    page.locator(".map-slide button").click()
    assert "35\u00a0cm" in page.locator("#map-plan .map-caption").first.inner_text()


def test_without_scripts_the_brightest_point_is_read_and_no_tap_asked_for(
    new_context, live_server, link
):
    page = new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(live_server.url + link + "?depth=35cm")
    readout = page.locator("#map-readout")
    expect(readout.locator("strong")).to_contain_text("PAR")
    expect(readout).to_be_visible()
    assert "35\u00a0cm" in readout.inner_text()
    assert not [one for one in readout.locator(".with-script").all() if one.is_visible()]


def test_a_slider_alone_gives_a_comment_no_place(phone, live_server, link):
    sign_in(phone, live_server.url, make_user(display_name="Nora"))
    page = phone.new_page()
    page.goto(live_server.url + link)
    page.locator("#comment-new summary").click()
    boxes = [page.locator(f"#id_comment-{name}_cm") for name in ("x", "y", "depth")]
    blank = [box.input_value() for box in boxes]
    page.get_by_role("slider", name="Depth").fill("30")
    expect(page.locator("#map-readout")).to_contain_text("30 cm deep")
    lines = page.locator("#map-plan [data-cross] path").first
    assert not lines.get_attribute("d")
    assert [box.input_value() for box in boxes] == blank
    for box, typed in zip(boxes, "123", strict=True):
        box.fill(typed)
    page.get_by_role("slider", name="Depth").fill("35")
    expect(page.locator("#map-readout")).to_contain_text("35 cm deep")
    assert [box.input_value() for box in boxes] == ["1", "2", "3"]
    page.get_by_role("application").click()
    expect(lines).to_have_attribute("d", re.compile("V"))
    assert [box.input_value() for box in boxes] != ["1", "2", "3"]


def test_a_keeper_comments_on_the_point_that_was_tapped(phone, live_server, link):
    keeper = make_user(display_name="Nora")
    sign_in(phone, live_server.url, keeper)
    page = phone.new_page()
    page.goto(live_server.url + link)
    page.locator("#comment-new summary").click()
    page.get_by_role("application").click()
    assert page.locator("#id_comment-x_cm").input_value() != ""
    page.get_by_label("Comment", exact=True).fill("Is that a shadow?")
    page.get_by_role("button", name="Comment", exact=True).click()
    expect(page.locator("#comment-B")).to_contain_text("Is that a shadow?")
    expect(page.locator("#map-plan .map-next-mark")).to_have_count(2)
    assert ShareLink.objects.get().comments.filter(author=keeper).exists()
    assert timezone.now() - Comment.objects.latest("pk").created_at < dt.timedelta(minutes=5)
