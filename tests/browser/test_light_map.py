"""The light map on a phone: depth, read-out, band, and the same map behind a share link."""

import datetime as dt
import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from apps.drawing.frame import DRAWING_WIDTH
from tests.browser.conftest import DESK, PHONE
from tests.factories import (
    make_coral,
    make_light_change,
    make_lit_survey,
    make_rock,
    make_survey,
)

pytestmark = pytest.mark.django_db(transaction=True)

# On a phone the drawing begins within the first third of the screen [CSS px].
MAP_TOP_MAX = 260


@pytest.fixture
def mapped(tank):
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=40))
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=300))
    make_light_change(tank)
    make_rock(tank)
    make_coral(tank, name="Torch", at_cm=(20, 40, 30))
    return tank


def sign_in(page, live_server, user):
    client = Client()
    client.force_login(user)
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value}
    page.context.add_cookies([cookie | {"url": live_server.url}])


@pytest.fixture
def open_map(page, live_server, mapped, owner):
    sign_in(page, live_server, owner)
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("light_map", args=[mapped.pk]))
    return page


def switch_to(page, name):
    page.locator("#map-seen").get_by_role("link", name=name).click()
    expect(page.locator("#map-seen a[aria-current]")).to_have_text(name)
    # What came is seen a moment before it hears of a slider.
    at_work = page.locator(".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added")
    expect(at_work).to_have_count(0)


def unfold(page, fold):
    if not page.locator(f"{fold}[open]").count():
        page.locator(f"{fold} > summary").click()


def sideways(page):
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth")


def place_of_plan(page):
    """Return left, top, width and height of the plan on the page, however it is scrolled."""
    box = page.locator("#map-plan").bounding_box()
    return [box["x"], box["y"] + page.evaluate("scrollY"), box["width"], box["height"]]


def assert_nothing_serious(page):
    found = Axe().run(page).response["violations"]
    assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == []


def test_depth_moves_the_drawing_without_a_reload(open_map, complaints):
    page = open_map
    page.evaluate("window.stillHere = true")
    before, facts = place_of_plan(page), page.locator("#map-plane-facts").inner_text()
    page.fill("#map-depth", "40")
    page.press("#map-depth", "Tab")
    expect(page.locator("#map-plan")).to_contain_text("40 cm below")
    expect(page.locator("#map-plane-facts")).not_to_have_text(facts)
    expect(page).to_have_url(re.compile(r"[?&]depth=40cm"))
    assert page.locator("[data-moves=map-depth]").input_value() == "40"
    assert page.evaluate("window.stillHere") is True
    assert place_of_plan(page) == pytest.approx(before, abs=0.5)
    assert complaints == []


def test_slider_moves_the_cut(open_map, complaints):
    page = open_map
    switch_to(page, "Side view")
    page.focus("[data-moves=map-y]")
    page.keyboard.press("End")
    expect(page.locator("#map-section")).to_contain_text("60 cm behind")
    assert page.input_value("#map-y") == "60"
    assert complaints == []


def test_both_sliders_can_be_taken_hold_of_on_a_narrow_phone(open_map):
    page = open_map
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.locator("[data-moves=map-depth]").bounding_box()["width"] > 100
    switch_to(page, "Side view")
    assert page.locator("[data-moves=map-y]").bounding_box()["width"] > 100
    assert sideways(page) <= 0


def test_typed_depth_outside_the_water_is_told(open_map):
    open_map.fill("#map-depth", "90")
    open_map.press("#map-depth", "Enter")
    expect(open_map.locator("#map-plan [role=alert]")).to_contain_text("0 to 50 cm")


def test_arrow_keys_read_the_light(open_map, complaints):
    page = open_map
    readout = page.locator("#map-readout")
    page.locator("[data-plane=plan]").focus()
    lines = page.locator("[data-plane=plan] [data-cross] path").first
    expect(lines).to_have_attribute("d", re.compile("V"))
    x_cm, y_cm = (float(page.input_value(f"#map-ask-{name}")) for name in ("x", "y"))
    page.keyboard.press("ArrowRight")
    expect(readout).to_contain_text(f"{x_cm + 1:g} from the left, {y_cm:g} from")
    expect(readout).to_contain_text("90 %:")
    page.keyboard.press("Shift+ArrowUp")
    expect(readout).to_contain_text(f"{x_cm + 1:g} from the left, {y_cm + 5:g} from")
    assert complaints == []


def test_map_opens_with_its_brightest_point_marked_and_follows_it_down(open_map, complaints):
    page = open_map
    readout = page.locator("#map-readout")
    cross = page.locator("[data-plane=plan] [data-cross]")
    expect(readout.locator("strong")).to_contain_text("PAR")
    expect(cross).to_have_attribute("visibility", "visible")
    place = [page.input_value(f"#map-ask-{name}") for name in ("x", "y")]
    page.fill("#map-depth", "45")
    page.press("#map-depth", "Tab")
    expect(readout).to_contain_text("45 cm deep")
    assert [page.input_value(f"#map-ask-{name}") for name in ("x", "y")] == place
    assert complaints == []


def test_reading_a_point_moves_nothing_on_the_page(open_map):
    page = open_map
    before = place_of_plan(page)
    page.locator("[data-plane=plan]").click(position={"x": 100, "y": 100})
    expect(page.locator("#map-readout strong")).to_contain_text("PAR")
    assert place_of_plan(page) == pytest.approx(before, abs=0.5)


def test_point_of_a_change_says_how_much(open_map, complaints):
    page = open_map
    page.goto(page.url + "?view=change")
    before = place_of_plan(page)
    page.locator("[data-plane=plan]").click(position={"x": 100, "y": 100})
    # The one change in the log: 0.8 of the light.
    expect(page.locator("#map-readout")).to_contain_text("20 % dimmer")
    assert place_of_plan(page) == before and not complaints


def test_point_read_stays_and_follows_a_new_depth(open_map):
    page = open_map
    page.focus("[data-plane=plan]")
    page.keyboard.press("ArrowRight")
    shallow = page.locator("#map-readout strong").inner_text()
    page.fill("#map-depth", "45")
    page.press("#map-depth", "Tab")
    expect(page.locator("#map-readout")).to_contain_text("45 cm deep")
    assert page.locator("#map-readout strong").inner_text() != shallow
    expect(page.locator("[data-plane=plan] [data-cross]")).to_have_attribute(
        "visibility", "visible"
    )


def test_preset_sets_the_band(open_map):
    unfold(open_map, "#map-shown")
    open_map.get_by_role("button", name="SPS 200–350").click()
    expect(open_map.locator("#map-plane-facts")).to_contain_text("Within PAR 200–350")
    assert open_map.input_value("#map-low") == "200"


def test_band_the_wrong_way_round_is_told_beside_it_and_outlives_a_reload(open_map):
    page = open_map
    unfold(page, "#map-shown")
    page.fill("#map-low", "300")
    page.fill("#map-high", "100")
    # Leads onto the first preset's button, which must not count as pressed.
    page.press("#map-high", "Tab")
    expect(page.locator("#map-band-problem")).not_to_be_empty()
    expect(page).to_have_url(re.compile("low=300&high=100"))
    page.reload()
    assert (page.input_value("#map-low"), page.input_value("#map-high")) == ("300", "100")
    expect(page.locator("#map-band-problem")).not_to_be_empty()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_page_is_accessible_and_does_not_scroll_sideways(open_map, complaints, scheme, size):
    page = open_map
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    page.reload()
    for summary in page.locator("main summary").all():
        summary.click()
    assert sideways(page) <= 0
    assert_nothing_serious(page)
    assert complaints == []


@pytest.fixture
def open_lit_map(page, live_server, tank, owner):
    make_lit_survey(tank)
    make_rock(tank)
    make_coral(tank)
    sign_in(page, live_server, owner)
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("light_map", args=[tank.pk]))
    return page


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_point_is_explained_trust_shown_and_box_turned(open_lit_map, complaints, scheme):
    page = open_lit_map
    page.emulate_media(color_scheme=scheme)
    page.locator("[data-plane=plan]").click(position={"x": 300, "y": 60})
    x_cm = page.input_value("#map-ask-x")
    assert x_cm in page.locator("#map-readout").inner_text()
    unfold(page, ".map-typed")
    page.get_by_role("button", name="Explain").click()
    expect(page.locator("#map-why .map-why__shares")).to_be_visible()
    expect(page.locator("#map-why")).to_contain_text(f"at {x_cm} cm from the left")
    switch_to(page, "3-D view")
    expect(page.locator("#map-box svg[role=img]")).to_be_visible()
    page.get_by_role("link", name="Walk right").click()
    expect(page.locator("#map-box")).to_contain_text("front right")
    assert sideways(page) <= 0
    assert_nothing_serious(page)
    switch_to(page, "Plan")
    for look, words in (("How sure", "mostly a guess"), ("Shadows", "hardly a shadow")):
        page.locator("#map-shown > summary").click()
        page.get_by_role("link", name=look, exact=True).click()
        expect(page.locator(".map-legend")).to_contain_text(words)
        assert sideways(page) <= 0
        assert_nothing_serious(page)
    page.fill("#map-depth", "40")
    page.press("#map-depth", "Tab")
    expect(page.locator("#map-plan")).to_contain_text("40 cm below")
    assert complaints == []


def test_spots_to_read_next_are_marked_and_stay(open_lit_map, complaints):
    page = open_lit_map
    page.get_by_role("link", name="Where to read next").click()
    expect(page.locator("[data-plane=plan] .map-next-mark")).to_have_count(4)
    page.get_by_role("link", name="6", exact=True).click()
    expect(page.locator(".map-next__spots li")).to_have_count(6)
    page.fill("#map-depth", "40")
    page.press("#map-depth", "Tab")
    expect(page.locator("#map-plan")).to_contain_text("40 cm below")
    expect(page.locator("[data-plane=plan] .map-next-mark")).to_have_count(6)
    assert sideways(page) <= 0
    assert_nothing_serious(page)
    assert complaints == []


def test_survey_page_says_where_to_read_next(open_lit_map, live_server, complaints):
    page = open_lit_map
    page.locator("#map-tables > summary").click()
    page.get_by_role("link", name="Open this survey").click()
    page.locator("#map-next").get_by_role("link").click()
    expect(page.locator(".map-next__spots li")).to_have_count(4)
    expect(page.locator("#map-next")).to_contain_text(
        re.compile(r"±\s*[\d.]+\s%[^(±]*±\s*[\d.]+\s%")
    )
    assert sideways(page) <= 0
    assert_nothing_serious(page)
    assert complaints == []


def test_asking_again_keeps_what_was_typed(open_lit_map):
    page = open_lit_map
    page.locator("[data-plane=plan]").click(position={"x": 100, "y": 100})
    unfold(page, ".map-typed")
    page.fill("#map-ask-x", "12")
    page.press("#map-ask-x", "Enter")
    expect(page.locator("#map-why")).to_contain_text("at 12 ")
    assert page.input_value("#map-ask-x") == "12"


def test_point_and_box_work_without_script(browser, live_server, tank, owner):
    make_lit_survey(tank)
    context = browser.new_context(java_script_enabled=False, viewport=PHONE)
    page = context.new_page()
    sign_in(page, live_server, owner)
    page.goto(live_server.url + reverse("light_map", args=[tank.pk]))
    unfold(page, ".map-typed")
    page.fill("#map-ask-x", "12")
    page.get_by_role("button", name="Explain").click()
    expect(page.locator("#map-why")).to_contain_text("at 12 ")
    expect(page.get_by_role("link", name="Place a coral here")).to_be_visible()
    page.get_by_role("link", name="Back to the light map").click()
    switch_to(page, "3-D view")
    page.get_by_role("link", name="Walk left").click()
    expect(page.locator("#map-box")).to_contain_text("front left")
    context.close()


def test_fixtures_are_hung_on_a_phone(page, live_server, tank, owner, complaints):
    make_survey(tank)
    sign_in(page, live_server, owner)
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("light_change_new", args=[tank.pk]))
    page.fill("[name=summary]", "What was there from the start")
    page.get_by_role("link", name="Describe a lamp").first.click()
    page.fill("[name=name]", "Blue panel")
    page.fill("[name=lit_length_cm]", "20")
    page.fill("[name=lit_width_cm]", "20")
    assert_nothing_serious(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("[name=summary]")).to_have_value("What was there from the start")
    page.select_option("[name=hung-0-fixture]", label="Blue panel")
    for name, value in (("x_cm", "30"), ("y_cm", "30"), ("height_cm", "20")):
        page.fill(f"[name=hung-0-{name}]", value)
    page.get_by_role("button", name="More rows").click()
    expect(page.locator("[name=hung-2-x_cm]")).to_be_visible()
    expect(page.locator("[name=hung-0-x_cm]")).to_have_value("30")
    assert sideways(page) <= 0
    assert_nothing_serious(page)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("region", name="Lights now")).to_contain_text("Blue panel")
    assert complaints == []


def test_depth_form_works_without_script(browser, live_server, mapped, owner):
    context = browser.new_context(java_script_enabled=False, viewport=PHONE)
    page = context.new_page()
    sign_in(page, live_server, owner)
    page.goto(live_server.url + reverse("light_map", args=[mapped.pk]))
    page.fill("#map-depth", "35")
    page.locator(".map-slide button").first.click()
    expect(page.locator("#map-plan")).to_contain_text("35 cm below")
    context.close()


def test_owner_makes_a_link_that_a_visitor_opens(
    page, browser, live_server, mapped, owner, complaints
):
    sign_in(page, live_server, owner)
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("share_link_list", args=[mapped.pk]))
    assert_nothing_serious(page)
    page.fill("[name=label]", "Club night")
    page.get_by_role("button", name="Make the link").click()
    address = page.input_value("#share-address")
    page.get_by_role("button", name="Copy").click()
    expect(page.locator("[data-copied]")).not_to_be_empty()
    assert sideways(page) <= 0
    assert_nothing_serious(page)
    assert complaints == []

    visitor = browser.new_context(viewport=PHONE)
    other = visitor.new_page()
    told = []
    other.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    other.goto(live_server.opened_here(address))
    expect(other.get_by_role("link", name="Sign in")).to_be_visible()
    assert other.locator("[data-plane=plan]").bounding_box()["y"] < MAP_TOP_MAX
    other.fill("#map-depth", "40")
    other.press("#map-depth", "Tab")
    expect(other.locator("#map-plan")).to_contain_text("40 cm below")
    other.get_by_role("link", name="inches").click()
    expect(other.locator("#map-plan")).to_contain_text(re.compile(r"\d\sin below"))
    assert sideways(other) <= 0
    assert_nothing_serious(other)
    assert told == []
    visitor.close()


def test_beside_a_round_tank_no_light_is_told(page, live_server, tank, owner, complaints):
    make_lit_survey(tank)
    tank.shape = "cylinder"
    tank.save()
    sign_in(page, live_server, owner)
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("light_map", args=[tank.pk]))
    assert "Outside the tank" in read_plan(page, 3, 57)
    assert "PAR" in read_plan(page, 30, 30)
    assert complaints == []


def read_plan(page, x_cm, y_cm):
    """Point at a place of the plan and return what the read-out says."""
    told = json.loads(page.locator("#map-plan-data").text_content())
    frame = told["frame"]
    drawing = page.locator("[data-plane=plan] svg")
    drawing.scroll_into_view_if_needed()
    box = drawing.bounding_box()
    scale = box["width"] / DRAWING_WIDTH
    x = frame["left"] + x_cm / told["acrossCm"] * frame["width"]
    y = frame["top"] + (1 - y_cm / told["downCm"]) * frame["height"]
    page.mouse.move(box["x"] + x * scale, box["y"] + y * scale)
    return page.locator("#map-readout").text_content()


def par_in(text):
    return float(re.search(r"PAR ([\d.]+)", text).group(1))


def test_beside_rock_the_readout_agrees_with_the_reason(open_lit_map, complaints):
    page = open_lit_map
    page.goto(page.url + "?depth=40&y=30")
    assert "no light here" in read_plan(page, 30, 30)
    unfold(page, ".map-typed")
    for x_cm in (17, 12, 5):
        told = read_plan(page, x_cm, 30)
        page.get_by_role("button", name="Explain").click()
        expect(page.locator("#map-why h3")).to_contain_text(f"at {x_cm} cm from the left")
        exact = par_in(page.locator("#map-why h3").text_content())
        steep = re.search(r"PAR ([\d.]+) to ([\d.]+)", told)
        low, high = map(float, steep.groups()) if steep else [par_in(told)] * 2
        # A straight line between nodes 2 cm apart strays by a few percent where it is not steep.
        assert 0.93 * low <= exact <= 1.07 * high, x_cm
    assert complaints == []


def test_enter_in_a_box_asks_once_and_complains_of_nothing(open_lit_map, complaints):
    page = open_lit_map
    asked = []
    page.on("request", lambda r: asked.append(r.url) if "depth=12" in r.url else None)
    page.locator("#map-depth").fill("12")
    page.locator("#map-depth").press("Enter")
    expect(page.locator("#map-plan")).to_contain_text("12 cm below")
    assert sum("y=30" in url for url in asked) == 1
    switch_to(page, "Side view")
    page.locator("[data-moves=map-y]").evaluate(
        """range => { for (let i = 1; i < 30; i += 1) {
            range.value = i; range.dispatchEvent(new Event("input", { bubbles: true }));
        } }"""
    )
    expect(page.locator("#map-section")).to_contain_text("29 cm behind")
    page.wait_for_load_state("networkidle")
    assert complaints == [] and sum("y=29" in url for url in asked) == 1


# What stands on the page without a tap on a fold.
WORDS = """() => {
    const main = document.querySelector("main").cloneNode(true);
    for (const fold of main.querySelectorAll("details:not([open])")) {
        for (const child of [...fold.children]) if (child.tagName !== "SUMMARY") child.remove();
    }
    const unread = "script, noscript, .out-of-sight, select, desc, svg";
    for (const out of main.querySelectorAll(unread)) out.remove();
    document.querySelector("main").replaceWith(main);
    return main.innerText.split(/\\s+/).filter((word) => /[a-z0-9]/i.test(word)).length;
}"""
WORDS_MAX, HEIGHT_MAX = 150, 2400


@pytest.mark.parametrize("seen", ["above", "side", "3d"])
def test_map_is_first_on_a_phone_and_the_page_is_short(page, live_server, tank, owner, seen):
    survey = make_lit_survey(tank)
    make_light_change(tank)
    make_rock(tank)
    for k in range(12):
        make_coral(tank, name=f"Coral {k}", at_cm=(5 + 4 * k, 20 + k, 10 + 2 * k))
    assert survey.readings.count() >= 27
    sign_in(page, live_server, owner)
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("light_map", args=[tank.pk]) + f"?seen={seen}")
    drawing = page.locator("#map-plan, #map-section, #map-box")
    assert drawing.bounding_box()["y"] < MAP_TOP_MAX
    assert page.evaluate("document.documentElement.scrollHeight") <= HEIGHT_MAX
    assert page.evaluate(WORDS) <= WORDS_MAX


def test_point_is_placed_and_read_by_keyboard(open_lit_map, tank, complaints):
    page = open_lit_map
    page.focus("[data-plane=plan]")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#map-readout")).to_contain_text("micromol per square metre and second")
    place = [page.input_value(f"#map-ask-{name}") for name in ("x", "y", "depth")]
    assert_nothing_serious(page)
    page.get_by_role("link", name="Place a coral here").click()
    shown = [float(page.input_value(f"[name=spot-{n}_cm]")) for n in ("x", "y", "depth")]
    assert shown == pytest.approx([float(value) for value in place], abs=0.06)
    page.go_back()
    page.locator("[data-plane=plan]").click(position={"x": 100, "y": 100})
    page.get_by_role("button", name="Read here").click()
    expect(page).to_have_url(re.compile("/enter/|/surveys/new/"))
    assert complaints == []


def test_switch_keeps_depth_and_layers_without_a_reload(open_lit_map, complaints):
    page = open_lit_map
    page.evaluate("window.stillHere = true")
    page.fill("#map-depth", "12")
    page.press("#map-depth", "Tab")
    expect(page.locator("#map-plan")).to_contain_text("12 cm below")
    switch_to(page, "Side view")
    expect(page.locator("#map-section")).to_be_visible()
    expect(page).to_have_url(re.compile("depth=12cm.*seen=side"))
    switch_to(page, "3-D view")
    switch_to(page, "Plan")
    expect(page.locator("#map-plan")).to_contain_text("12 cm below")
    assert page.evaluate("window.stillHere") is True
    unfold(page, "#map-shown")
    page.locator("#map-layer-corals").click()
    expect(page.locator("#map-plan")).to_contain_text("12 cm below")
    expect(page.locator("#map-plan .map-pin")).to_have_count(0)
    assert complaints == []


def test_picture_is_handed_out(open_lit_map):
    page = open_lit_map
    with page.expect_download() as taken:
        page.get_by_role("link", name="Picture").click()
    assert taken.value.suggested_filename.endswith(".png")
    expect(page.get_by_role("button", name="Print")).to_be_visible()
