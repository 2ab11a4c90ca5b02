"""Photos in a real browser: marks drawn by touch, mouse and keys, two photos compared."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from apps.corals.colour_models import CoralSize, PhotoColour
from tests.browser.conftest import DESK, PHONE
from tests.corals.photos.test_colour_card import QUADS, REFLECTANCE, card_photo
from tests.corals.pictures import encoded, picture
from tests.corals.shots import PALE, make_colour, make_photo
from tests.factories import make_coral, make_tank, make_user
from tests.photics.rendered import true_lab

SMALL = {"width": 360, "height": 740}


@pytest.fixture
def coral(transactional_db):
    return make_coral(make_tank(make_user(email="owner@example.org")))


@pytest.fixture
def phone(page, coral, live_server):
    client = Client()
    client.force_login(coral.tank.owner)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page.set_viewport_size(PHONE)
    return page


def choose(page, reference):
    page.locator(f"label:has([name=reference_kind][value={reference}])").click()


def drag(page, start, *ends, tool=None):
    """Draw from share to share of the photo's width and height."""
    if tool:
        page.get_by_role("radio", name=tool, exact=True).check()
    view = page.locator("[data-view]")
    view.scroll_into_view_if_needed()
    box = view.bounding_box()
    places = [
        (box["x"] + x * box["width"], box["y"] + y * box["height"]) for x, y in (start, *ends)
    ]
    page.mouse.move(*places[0])
    page.mouse.down()
    for place in places[1:]:
        page.mouse.move(*place, steps=6)
    page.mouse.up()


def opened(phone, live_server, photo):
    phone.goto(live_server.url + reverse("photo_detail", args=[photo.key]))
    expect(phone.locator("[data-tools]")).to_be_visible()
    return phone


def typed(page, name):
    return page.locator(f"[name={name}]").input_value()


def test_colour_is_measured_from_what_is_drawn(phone, live_server, coral, complaints):
    opened(phone, live_server, make_photo(coral))
    drag(phone, (0.09, 0.60), (0.23, 0.80), tool="Reference")
    drag(phone, (0.48, 0.50), (0.68, 0.78), tool="Part of the coral")
    choose(phone, "white")
    phone.get_by_text("white light only").click()
    phone.get_by_role("button", name="Measure").click()
    expect(phone.locator("#photo-colour .colour-words")).to_be_visible()
    assert PhotoColour.objects.get().lab == pytest.approx((60, 5, 27), abs=2.5)
    assert complaints == []


def test_rings_of_the_printed_card_are_tapped_in_any_order(phone, live_server, coral, complaints):
    photo = card_photo(coral, size=(800, 600))
    opened(phone, live_server, photo)
    choose(phone, "card")
    phone.get_by_role("radio", name="Reference", exact=True).check()
    hint = phone.locator("[data-rings]")
    expect(hint).to_contain_text("0 of 4")
    corners = QUADS["straight"]
    for number in (2, 0, 3):
        drag(phone, corners[number])
    expect(hint).to_contain_text("3 of 4")
    # One too many is taken back, then all are there.
    phone.get_by_role("button", name="Undo the last").click()
    expect(hint).to_contain_text("2 of 4")
    for number in (3, 1):
        drag(phone, corners[number])
    expect(hint).to_be_hidden()
    assert typed(phone, "reference").startswith("outline ")
    drag(phone, (0.58, 0.20), (0.92, 0.80), tool="Part of the coral")
    phone.get_by_text("white light only").click()
    phone.get_by_role("button", name="Measure").click()
    expect(phone.locator("#photo-colour")).to_contain_text("it fits")
    assert PhotoColour.objects.get().lab == pytest.approx(true_lab(REFLECTANCE), abs=3)
    assert complaints == []


def test_card_is_printed_at_its_true_size(phone, live_server, coral):
    phone.set_viewport_size(DESK)
    phone.goto(live_server.url + reverse("colour_card"))
    assert Axe().run(phone).violations_count == 0
    phone.emulate_media(media="print")
    box = phone.locator(".colour-card__print").bounding_box()
    # A CSS inch is 96 px and 25.4 mm.
    assert box["width"] * 25.4 / 96 == pytest.approx(100, abs=0.1)
    expect(phone.get_by_role("heading", name="Print it")).to_be_hidden()


def test_a_corner_of_the_card_is_dragged_to_its_ring(phone, live_server, coral):
    opened(phone, live_server, card_photo(coral, size=(800, 600)))
    choose(phone, "card")
    phone.get_by_role("button", name="Put one in the middle").click()
    before = typed(phone, "reference")
    drag(phone, (0.62, 0.60), (0.48, 0.59))
    after = typed(phone, "reference")
    assert before != after and "48 59" in after and after.startswith("outline 30 35, 62 35")


def test_whole_coral_and_known_length_give_its_size(phone, live_server, coral):
    opened(phone, live_server, make_photo(coral))
    drag(phone, (0.09, 0.60), (0.23, 0.80), tool="Reference")
    drag(phone, (0.5, 0.6), (0.6, 0.7), tool="Part of the coral")
    corners = ((0.8, 0.4), (0.8, 0.8), (0.4, 0.8), (0.4, 0.41))
    drag(phone, (0.4, 0.4), *corners, tool="Whole coral")
    drag(phone, (0.08, 0.90), (0.28, 0.90), tool="Known length")
    phone.locator("[name=scale_cm]").fill("4")
    choose(phone, "white")
    phone.get_by_text("white light only").click()
    phone.get_by_role("button", name="Measure").click()
    phone.wait_for_load_state()
    size = CoralSize.objects.get()
    # 40 % of 720 by 40 % of 540 pixels, at 36 pixels a cm.
    assert size.area_cm2 == pytest.approx(8 * 6, rel=0.08)


def test_mark_is_moved_sized_and_taken_away_by_keys(phone, live_server, coral):
    opened(phone, live_server, make_photo(coral))
    phone.get_by_role("button", name="Put one in the middle").click()
    assert typed(phone, "reference") == "box 40 40, 60 60"
    phone.keyboard.press("ArrowRight")
    phone.keyboard.press("ArrowUp")
    phone.keyboard.press("Shift+ArrowRight")
    assert typed(phone, "reference") == "box 41 39, 62 59"
    phone.keyboard.press("Delete")
    assert typed(phone, "reference") == ""


def test_mark_is_dragged_and_sized_by_its_corner(phone, live_server, coral):
    opened(phone, live_server, make_photo(coral))
    drag(phone, (0.2, 0.2), (0.5, 0.5), tool="Reference")
    drag(phone, (0.3, 0.3), (0.4, 0.3))
    numbers = [float(n) for n in re.findall(r"[\d.]+", typed(phone, "reference"))]
    assert numbers == pytest.approx([30, 20, 60, 50], abs=1)
    drag(phone, (0.6, 0.5), (0.7, 0.6))
    numbers = [float(n) for n in re.findall(r"[\d.]+", typed(phone, "reference"))]
    assert numbers == pytest.approx([30, 20, 70, 60], abs=1)


def test_typing_moves_the_mark(phone, live_server, coral):
    opened(phone, live_server, make_photo(coral))
    phone.locator(".mark-numbers > summary").click()
    phone.locator("[name=regions]").fill("box 10 10 20 20\nellipse 50 50 90 90")
    expect(phone.locator(".mark-shape--regions")).to_have_count(2)


def test_drawn_marks_survive_a_closed_tab(phone, live_server, coral):
    photo = make_photo(coral)
    opened(phone, live_server, photo)
    drag(phone, (0.2, 0.2), (0.5, 0.5), tool="Reference")
    kept = typed(phone, "reference")
    opened(phone, live_server, photo)
    expect(phone.locator(".mark-shape--reference")).to_have_count(1)
    assert typed(phone, "reference") == kept != ""


def test_proposed_marks_are_drawn(phone, live_server, coral):
    make_colour(coral, days_ago=9)
    opened(phone, live_server, make_photo(coral, shift=(0.05, -0.03), seed=3))
    expect(phone.locator("[data-mark-form] .notice--success")).to_be_visible()
    expect(phone.locator("[data-shapes] .mark-shape")).to_have_count(2)


def test_slider_shows_more_of_one_photo(phone, live_server, coral, complaints):
    make_colour(coral, days_ago=30)
    make_colour(coral, lab=PALE, seed=2)
    phone.goto(live_server.url + reverse("coral_compare", args=[coral.pk]))
    expect(phone.locator("[data-pair]")).to_be_hidden()
    cut = phone.locator("[data-cut]")
    assert cut.get_attribute("x") == "360"
    phone.locator("[data-slide]").focus()
    phone.keyboard.press("End")
    assert cut.get_attribute("x") == "720"
    assert complaints == []


@pytest.mark.parametrize("size", [SMALL, PHONE, DESK], ids=["small", "phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_are_sound(phone, live_server, coral, complaints, size, scheme):
    first = make_colour(coral, days_ago=30)
    make_colour(coral, days_ago=20, lab=PALE, seed=2)
    fresh = make_photo(coral, seed=3)
    phone.set_viewport_size(size)
    phone.emulate_media(color_scheme=scheme)
    for address in (
        reverse("photo_detail", args=[first.photo.key]),
        reverse("photo_detail", args=[fresh.key]),
        reverse("coral_compare", args=[coral.pk]),
        reverse("coral_detail", args=[coral.pk]),
        reverse("size_new", args=[coral.pk]),
    ):
        phone.goto(live_server.url + address)
        folded = phone.locator("main details:not([open]) > summary")
        for _ in range(folded.count()):
            folded.first.press("Enter")
        assert [v["id"] for v in Axe().run(phone).response["violations"]] == [], address
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth"), address
    assert complaints == []


def test_many_photos_are_sent_one_by_one_and_one_that_fails_is_named(phone, coral, live_server):
    phone.goto(live_server.url + reverse("history_photos", args=[coral.tank_id]))
    files = [
        {"name": f"IMG_2026010{k}.jpg", "mimeType": "image/jpeg", "buffer": content}
        for k, content in enumerate((encoded(), encoded(made=picture(80)), b"not a photo"), 1)
    ]
    phone.locator("#id_photos").set_input_files(files)
    phone.get_by_role("button", name="Send the photos").click()
    expect(phone.locator("#photos-progress [role=status]")).to_contain_text("2 of 3")
    expect(phone.locator(".photo-state--failed")).to_have_count(1)
    phone.get_by_role("link", name="Show those that are here").click()
    expect(phone.locator("#photos-waiting")).to_have_attribute("data-count", "2")
    assert not Axe().run(phone, options={"runOnly": ["wcag2a", "wcag2aa"]}).response["violations"]
