"""Plans on a phone: a lamp dragged over the tank, an acclimation ticked off."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from tests.browser.conftest import DESK, PHONE
from tests.factories import (
    hang,
    make_acclimation,
    make_coral,
    make_lit_survey,
    make_tank,
    make_user,
)


@pytest.fixture
def tank(transactional_db):
    tank = make_tank(make_user(email="owner@example.org"))
    make_lit_survey(tank)
    return tank


@pytest.fixture
def phone(page, tank, live_server):
    client = Client()
    client.force_login(tank.owner)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page.set_viewport_size(PHONE)
    return page


def light_then(page):
    return int(page.locator(".what-if-corals strong").first.inner_text())


def test_a_dragged_lamp_changes_map_and_coral_at_once(phone, live_server, tank, complaints):
    make_coral(tank)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    before, drawn = light_then(phone), phone.locator("#what-if-then").inner_html()
    box = phone.locator("[data-handle='0'] .what-if-handle__grip").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x - 60, y, steps=12)
    phone.mouse.up()
    expect(phone.locator(".what-if-corals strong").first).not_to_have_text(str(before))
    assert phone.locator("#what-if-then").inner_html() != drawn
    assert float(phone.locator("#id_hung-0-x_cm").input_value()) < 25
    assert complaints == []


def test_neither_the_script_nor_an_answer_moves_what_is_read(phone, live_server, tank):
    make_coral(tank)
    tops = "all => all.map(one => Math.round(one.getBoundingClientRect().top + scrollY))"
    parts = phone.locator(".what-if-pair, .what-if-corals, #what-if-form")
    phone.route("**/*.js", lambda route: route.abort())
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    before = parts.evaluate_all(tops)
    phone.unroute("**/*.js")
    phone.reload()
    expect(phone.locator("[data-tray]")).to_be_visible()
    assert parts.evaluate_all(tops) == before
    changed = light_then(phone)
    phone.get_by_role("button", name="Dimmer").click()
    expect(phone.locator(".what-if-corals strong").first).not_to_have_text(str(changed))
    assert parts.evaluate_all(tops) == before


def test_keys_move_raise_and_dim_a_lamp(phone, live_server, tank, complaints):
    make_coral(tank)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    before = light_then(phone)
    phone.locator("[data-handle='0']").focus()
    for key in ["ArrowLeft", "ArrowUp", "PageUp", "-"]:
        phone.keyboard.press(key)
    values = [
        phone.locator(f"#id_hung-0-{name}").input_value()
        for name in ("x_cm", "y_cm", "height_cm", "level_percent")
    ]
    assert values == ["29", "31", "21", "99"]
    expect(phone.locator(".what-if-corals strong").first).not_to_have_text(str(before))
    assert complaints == []


def test_a_chosen_fixture_starts_over_the_middle(phone, live_server, tank):
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    phone.locator("[data-tray-add]").click()
    phone.locator("#id_hung-1-fixture").select_option(index=1)
    expect(phone.locator("[data-handle='1']")).to_be_visible()
    expect(phone.locator("[data-tray-lamp='1'] input")).to_be_checked()
    assert phone.locator("#id_hung-1-height_cm").input_value() == "20"


def test_a_tap_in_the_tray_moves_the_chosen_lamp(phone, live_server, tank, complaints):
    make_coral(tank)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    before = light_then(phone)
    for name, by in [("height_cm", 1), ("level_percent", -1), ("x_cm", -1), ("y_cm", 1)]:
        button = phone.locator(f"[data-step='{name}'][data-by='{by}']")
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= 44
        assert box["y"] + box["height"] <= PHONE["height"]
        button.click()
    values = [
        phone.locator(f"#id_hung-0-{name}").input_value()
        for name in ("height_cm", "level_percent", "x_cm", "y_cm")
    ]
    assert values == ["21", "95", "29", "31"]
    assert phone.locator("[data-said-step='height_cm']").inner_text() == "21"
    expect(phone.locator(".what-if-corals strong").first).not_to_have_text(str(before))
    assert complaints == []


def test_a_fold_that_is_open_stays_open_after_a_step(phone, live_server, tank, complaints):
    make_coral(tank)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    fold = phone.locator("#what-if-how")
    fold.locator("summary").click()
    with phone.expect_response(lambda answer: "level_percent=95" in answer.url):
        phone.locator("[data-step='level_percent'][data-by='-1']").click()
    expect(phone.locator("[data-said-step='level_percent']")).to_have_text("95")
    phone.wait_for_load_state("networkidle")
    expect(fold).to_have_attribute("open", "")
    assert complaints == []


def test_all_lamps_rise_and_dim_with_one_tap(phone, live_server, tank, complaints):
    make_coral(tank)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    everyone = phone.locator("[data-tray-all]")
    expect(everyone).to_be_hidden()
    hang(tank.light_changes.get(), x_cm=12, height_cm=30, level_percent=50)
    phone.reload()
    everyone.click()
    expect(phone.locator("[data-said-step='level_percent']")).to_have_text("50–100")
    expect(phone.locator("[data-step='x_cm']").first).to_be_disabled()
    with phone.expect_response(lambda answer: "hung-1-level_percent=45" in answer.url):
        phone.locator("[data-step='level_percent'][data-by='-1']").click()
    phone.locator("[data-step='height_cm'][data-by='1']").click()
    values = {
        name: [phone.locator(f"#id_hung-{row}-{name}").input_value() for row in (0, 1)]
        for name in ("level_percent", "height_cm")
    }
    assert values == {"level_percent": ["95", "45"], "height_cm": ["21", "31"]}
    assert complaints == []


def test_a_phone_shows_one_map_and_switches(phone, live_server, tank, complaints):
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    now, then = phone.locator("#what-if-now"), phone.locator("#what-if-then")
    assert (now.is_visible(), then.is_visible()) == (False, True)
    assert then.bounding_box()["width"] >= 0.95 * PHONE["width"]
    phone.locator("[data-shows='now']").click()
    assert (now.is_visible(), then.is_visible()) == (True, False)
    phone.set_viewport_size(DESK)
    assert now.is_visible() and then.is_visible()
    assert complaints == []


@pytest.mark.parametrize("width", [320, 390, 760, 1280])
def test_no_text_of_a_map_is_under_ten_pixels(phone, live_server, tank, width):
    make_coral(tank)
    phone.set_viewport_size({"width": width, "height": 800})
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    sizes = phone.locator(".what-if-figure--then svg text").evaluate_all(
        """texts => texts.map(text => parseFloat(getComputedStyle(text).fontSize)
           * text.ownerSVGElement.getScreenCTM().a)"""
    )
    assert sizes and min(sizes) >= 10


def test_a_step_is_ticked_with_a_thumb(phone, live_server, tank, complaints):
    plan = make_acclimation(make_coral(tank))
    phone.goto(live_server.url + reverse("acclimation_detail", args=[plan.pk]))
    phone.get_by_role("button", name="Done").click()
    expect(phone.locator("#now-head")).to_contain_text("at step 1")
    phone.get_by_role("link", name="Enter it in the light log").click()
    expect(phone.get_by_label("In your words")).to_have_value(re.compile("Acclimation, step 1"))
    assert complaints == []


def test_on_a_desk_the_name_of_a_plan_stands_right_below_the_form(
    phone, live_server, tank, complaints
):
    for number in range(6):
        make_coral(tank, name=f"Coral {number}")
    phone.set_viewport_size(DESK)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    form, name = (phone.locator(at).bounding_box() for at in ("#what-if-form", "#what-if-save"))
    corals = phone.locator("#what-if-result").bounding_box()
    assert form["x"] == name["x"] < corals["x"]
    assert 0 <= name["y"] - (form["y"] + form["height"]) < 40
    assert complaints == []


def test_on_a_desk_the_corals_stand_beside_the_maps(phone, live_server, tank, complaints):
    make_coral(tank)
    phone.set_viewport_size(DESK)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    maps, tray, corals = (
        phone.locator(at).bounding_box()
        for at in (".what-if-pair", "[data-tray]", ".what-if-corals")
    )
    right = maps["x"] + maps["width"]
    assert tray["x"] >= right and corals["x"] >= right
    assert abs(tray["y"] - maps["y"]) < 2
    assert corals["y"] < maps["y"] + maps["height"]
    assert complaints == []


@pytest.mark.parametrize(("length_cm", "beside"), [(60, True), (150, False)])
def test_maps_of_a_long_tank_stand_one_above_the_other(phone, live_server, tank, length_cm, beside):
    tank.length_cm = length_cm
    tank.save()
    phone.set_viewport_size(DESK)
    phone.goto(live_server.url + reverse("what_if", args=[tank.pk]))
    now, then = (phone.locator(at).bounding_box() for at in ("#what-if-now", "#what-if-then"))
    assert (now["y"] == then["y"]) is beside
    sizes = phone.locator(".what-if-pair svg text").evaluate_all(
        """texts => texts.map(text => parseFloat(getComputedStyle(text).fontSize)
           * text.ownerSVGElement.getScreenCTM().a)"""
    )
    assert sizes and min(sizes) >= 10 and max(sizes) <= 22


def test_steps_are_shown_without_leaving_the_form(phone, live_server, tank, complaints):
    coral = make_coral(tank)
    phone.goto(live_server.url + reverse("acclimation_new", args=[coral.pk]))
    phone.get_by_role("button", name="Show the steps").click()
    expect(phone.locator("#steps-head")).to_contain_text("step")
    assert complaints == []


def test_a_corals_page_shows_how_its_plan_stands(phone, live_server, tank, complaints):
    plan = make_acclimation(make_coral(tank))
    phone.goto(live_server.url + reverse("coral_detail", args=[plan.coral_id]))
    expect(phone.locator("#acclimation-drawing")).to_be_visible()
    assert complaints == []


@pytest.mark.parametrize("screen", [PHONE, DESK])
def test_pages_fit_and_please_the_checker(phone, live_server, tank, screen):
    plan = make_acclimation(make_coral(tank))
    phone.set_viewport_size(screen)
    for name, pk in [
        ("what_if", tank.pk), ("place_coral", tank.pk), ("acclimation_list", tank.pk),
        ("acclimation_detail", plan.pk),
        ("acclimation_new", plan.coral_id), ("acclimation_tank_new", tank.pk),
    ]:  # fmt: skip
        phone.goto(live_server.url + reverse(name, args=[pk]))
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert phone.evaluate(wide) <= 0, name
        found = Axe().run(phone).response["violations"]
        serious = [v["id"] for v in found if v["impact"] in ("serious", "critical")]
        assert serious == [], name
