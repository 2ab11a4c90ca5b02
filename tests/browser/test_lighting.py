"""The light on a phone: curves, fixtures and mixes moved with a finger or by keys."""

import re
from itertools import pairwise

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from apps.lighting.models import DayCurve
from tests.browser.conftest import PHONE
from tests.factories import hang, make_fixture, make_light_change, make_tank, make_user


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
    # In the middle: at the foot of a phone lies the bar of rooms.
    thing.evaluate("one => one.scrollIntoView({ block: 'center' })")
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


def test_fixture_is_placed_by_finger_and_keys(phone, live_server, tank, complaints):
    change = make_light_change(tank)
    hang(change, make_fixture(tank.owner, name="Panel"), x_cm=30, y_cm=30, height_cm=20)
    phone.goto(live_server.url + reverse("light_change_new", args=[tank.pk]))
    phone.locator("#id_reason").select_option("moved")
    left, front = phone.locator("#id_hung-0-x_cm"), phone.locator("#id_hung-0-y_cm")
    above = phone.locator("[data-rig-view=above] [role=button]")
    drag(phone, above, by_x=40, by_y=0)
    # 60 cm of tank and its margins of 15 % over the drawing's shorter side.
    box = phone.locator("[data-rig-view=above]").bounding_box()
    across = min(box["width"], box["height"])
    assert float(left.input_value()) == pytest.approx(30 + 40 * 78 / across, abs=2)
    assert float(front.input_value()) == pytest.approx(30, abs=1)
    above.focus()
    placed = float(left.input_value())
    for key in ("ArrowLeft", "Shift+ArrowUp", "+"):
        phone.keyboard.press(key)
    assert float(left.input_value()) == placed - 1
    assert float(front.input_value()) == pytest.approx(35, abs=1)
    expect(phone.locator("#id_hung-0-turn_deg")).to_have_value("5")
    phone.locator(".rig-drawing__sides > summary").click()
    phone.locator("[data-rig-view=front] [role=button]").focus()
    phone.keyboard.press("Shift+ArrowUp")
    expect(phone.locator("#id_hung-0-height_cm")).to_have_value("25")
    phone.locator("[data-rig-view=side] [role=button]").focus()
    # The front pane lies to the right: to the left is to the back.
    for key in ("ArrowLeft", "+", "+", "-", "+"):
        phone.keyboard.press(key)
    assert float(front.input_value()) == pytest.approx(36, abs=1)
    expect(phone.locator("#id_hung-0-tilt_deg")).to_have_value("10")
    assert found_by_axe(phone) == [] and fits(phone)
    phone.get_by_role("button", name="Save").click()
    phone.wait_for_url(re.compile(r"/light/\?entry=\d+#light-change-\d+$"))
    hung = tank.light_changes.order_by("happened_at").last().hung.get()
    told = (hung.x_cm, hung.height_cm, hung.turn_deg, hung.tilt_deg)
    assert told == (placed - 1, 25, 5, 10)
    assert complaints == []


def test_mix_moves_at_constant_par(phone, live_server, tank, complaints):
    channels = [
        {"name": "Blue", "peak_nm": 450, "share_percent": 70},
        {"name": "White", "white_kelvin": 9000, "share_percent": 30},
    ]
    fixture = make_fixture(tank.owner, channels=channels)
    phone.goto(live_server.url + reverse("fixture_mix", args=[fixture.pk]))
    phone.locator("#level1").focus()
    phone.keyboard.press("End")
    # White from 60 to 100 % gives 12 more of PAR; blue gives them up: 60 - 12 / 0.7.
    expect(phone.locator("#level0")).to_have_value("42.9")
    expect(phone.locator("#fixture-mix")).to_contain_text("PAR is 60 %")
    assert found_by_axe(phone) == [] and fits(phone)
    assert complaints == []


def test_folded_row_says_what_the_drawing_moved_and_a_draft_unfolds_it(phone, live_server, tank):
    change = make_light_change(tank)
    panel = make_fixture(tank.owner, name="Panel")
    for x_cm in (15, 45):
        hang(change, panel, x_cm=x_cm, y_cm=30, height_cm=20)
    phone.goto(live_server.url + reverse("light_change_new", args=[tank.pk]))
    first, second = phone.locator(".rig-row__fold").nth(0), phone.locator(".rig-row__fold").nth(1)
    expect(first.locator("summary").first).to_contain_text(
        re.compile(r"\b15\b.*\b30\b.*\b20 cm", re.S)
    )
    phone.locator("[data-rig-view=above] [role=button]").first.focus()
    phone.keyboard.press("Shift+ArrowRight")
    expect(first.locator("summary").first).to_contain_text("20 from the left")
    assert first.get_attribute("open") is None
    phone.reload()
    expect(phone.locator("[data-kept-notice]")).to_be_visible()
    expect(phone.locator("#id_hung-0-x_cm")).to_be_visible()
    assert second.get_attribute("open") is None and fits(phone)


def test_a_point_of_a_day_stands_on_one_line_and_a_tap_takes_it_out(
    phone, live_server, tank, complaints
):
    phone.goto(live_server.url + reverse("day_curve_new", args=[tank.pk]))
    boxes = [
        phone.get_by_label(label, exact=True).bounding_box()
        for label in ("Time of point 2", "Level of point 2, %", "Delete point 2")
    ]
    middles = [box["y"] + box["height"] / 2 for box in boxes]
    assert max(middles) - min(middles) < 2
    assert min(box["height"] for box in boxes) >= 42
    rows = phone.locator(".points__row").evaluate_all(
        "rows => rows.map(row => row.getBoundingClientRect().top)"
    )
    assert all(after - before < 56 for before, after in pairwise(rows))
    handles = phone.locator(".curve__handle")
    drawn = handles.count()
    out = phone.get_by_role("checkbox", name="Delete point 2")
    out.click()
    expect(handles).to_have_count(drawn - 1)
    out.click()
    expect(handles).to_have_count(drawn)
    assert found_by_axe(phone) == [] and fits(phone)
    assert complaints == []


def is_in_view(page):
    return page.evaluate(
        "(() => { const box = document.activeElement.getBoundingClientRect();"
        " return box.top >= 0 && box.bottom <= innerHeight; })()"
    )


@pytest.mark.parametrize(
    ("name", "row"), [("light_change_new", ".rig-row"), ("day_curve_new", ".points__row")]
)
def test_more_rows_leaves_the_keeper_at_the_new_row(phone, live_server, tank, name, row):
    make_fixture(tank.owner)
    phone.goto(live_server.url + reverse(name, args=[tank.pk]))
    phone.locator(f"{row} input[type=text]").last.scroll_into_view_if_needed()
    with phone.expect_navigation():
        phone.get_by_role("button", name="More rows").click()
    phone.wait_for_function(f"document.activeElement.closest('{row}') !== null")
    assert phone.evaluate(
        f"[...document.querySelectorAll('{row}')].slice(-4)"
        f".includes(document.activeElement.closest('{row}'))"
    )
    assert phone.evaluate("document.activeElement.value") == ""
    assert is_in_view(phone) and "#" not in phone.url


def test_a_wrong_field_has_the_focus_in_sight(phone, live_server, tank):
    phone.goto(live_server.url + reverse("fixture_new"))
    phone.get_by_label("What you call it").fill("Panel")
    phone.locator("[name=beam_deg]").fill("900")
    phone.get_by_role("button", name="Save").last.click()
    expect(phone.locator("[name=beam_deg]")).to_have_attribute("aria-invalid", "true")
    expect(phone.locator("[aria-invalid=true]").first).to_be_focused()
    assert is_in_view(phone)


def test_more_rows_works_without_script(browser, live_server, tank):
    client = Client()
    client.force_login(tank.owner)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context = browser.new_context(java_script_enabled=False, viewport=PHONE)
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page = context.new_page()
    page.goto(live_server.url + reverse("day_curve_new", args=[tank.pk]))
    with page.expect_navigation():
        page.get_by_role("button", name="More rows").click()
    box = page.locator("#more-rows").bounding_box()
    assert page.locator("[name=do][value=more]").count() == 1
    assert 0 <= box["y"] <= PHONE["height"]
    context.close()
