"""Finding a layout in a browser: asked, searched to the end before one's eyes, sound by axe."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import expect

from apps.planning.layout.searching import advance_search
from tests.browser.conftest import DESK, PHONE
from tests.factories import make_coral, make_rock, make_tank
from tests.planning.questions import make_layout_plan


@pytest.fixture
def plan(keeper):
    tank = make_tank(keeper)
    make_rock(tank)
    make_coral(tank)
    return make_layout_plan(keeper, tank)


def complaints_of(page):
    told = []
    page.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: told.append(str(error)))
    return told


def test_a_search_goes_on_by_itself_to_its_answers(open_page, plan):
    page = open_page(reverse("layout_detail", args=[plan.pk]))
    page.wait_for_selector(".layout-compare", timeout=30_000)
    assert page.locator(".layout-progress").count() == 0
    assert page.locator(".layout-compare svg.light-picture").count() >= 1


def test_a_question_is_asked_and_answered(open_page, plan):
    page = open_page(reverse("tank_layout_new", args=[plan.tank_id]))
    page.get_by_role("button", name="Add a zone").click()
    page.get_by_label("Name", exact=True).last.fill("A ledge")
    page.locator(".layout-more:has(#id_count) > summary").click()
    page.get_by_label("Lamps, at most").fill("")
    expect(page.locator("[data-said=count]")).to_have_text("… lamps")
    page.get_by_label("Lamps, at most").fill("1")
    expect(page.locator("[data-said=count]")).to_have_text("1 lamp")
    page.get_by_role("button", name="Search").click()
    # The new zone has no measures yet: told at its fields, with its name kept.
    page.wait_for_selector(".field--wrong")
    assert page.get_by_label("Name", exact=True).last.input_value() == "A ledge"
    page.get_by_label("Delete this zone").last.check()
    page.get_by_role("button", name="Search").click()
    page.wait_for_selector(".layout-compare", timeout=30_000)


def test_zones_follow_the_measures_and_can_be_dragged(open_page, keeper):
    page = open_page(reverse("layout_new"), DESK)
    with page.expect_response("**/plans/layouts/new/"):
        page.get_by_label("Length, left to right").fill("180")
        page.get_by_label("Length, left to right").press("Tab")
    end = page.locator("[name=zone-2-x_to]")
    expect(end).to_have_value("171")
    zone = page.locator("[data-zone-view=front] [data-drag][data-zone='3']")
    zone.scroll_into_view_if_needed()
    box = zone.bounding_box()
    # Its right edge, a quarter of its length to the left.
    page.mouse.move(box["x"] + box["width"] - 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.75 * box["width"], box["y"] + box["height"] / 2)
    with page.expect_response("**/plans/layouts/new/"):
        page.mouse.up()
    expect(page.locator("[name=zone-2-parts]")).to_have_value("")
    assert 120 < float(end.input_value()) < 140
    assert page.locator("[name=zone-0-parts]").input_value() != ""


def test_a_part_that_was_resized_is_redrawn_without_breaking_the_policy(open_page, keeper):
    """A keeper who drags a box's corner gives it an inline style, which no page may write."""
    page = open_page(reverse("layout_new"), DESK)
    told = complaints_of(page)
    page.locator("#id_zone-0-name").evaluate("field => { field.style.width = '90px'; }")
    with page.expect_response("**/plans/layouts/new/"):
        page.get_by_label("Length, left to right").fill("180")
        page.get_by_label("Length, left to right").press("Tab")
    expect(page.locator("[name=zone-2-x_to]")).to_have_value("171")
    expect(page.locator(".htmx-settling, .htmx-swapping, .htmx-added")).to_have_count(0)
    assert told == []


def test_leaving_while_zones_are_redrawn_breaks_nothing(open_page, keeper):
    page = open_page(reverse("layout_new"), DESK)
    told = complaints_of(page)
    page.get_by_label("Length, left to right").fill("180")
    with page.expect_request("**/plans/layouts/new/"):
        page.get_by_label("Length, left to right").press("Tab")
    page.goto(page.url.split("/plans/")[0] + reverse("tank_list"))
    page.go_back(wait_until="load")
    expect(page.locator("#layout-zones")).to_be_visible()
    assert told == []


def test_a_first_answer_takes_six_actions_from_an_empty_form(open_page, keeper):
    page, actions = open_page(reverse("layout_new"), PHONE), 0
    for label, text in (
        ("Length, left to right", "120"),
        ("Width, front to back", "60"),
        ("Depth of the water", "60"),
    ):
        page.get_by_label(label).fill(text)
        actions += 1
    page.locator(".layout-more:has(.layout-row--fixture) > summary").click()
    actions += 1
    page.get_by_label("Lamp", exact=True).select_option("kind:strong")
    actions += 1
    page.get_by_role("button", name="Search").click()
    actions += 1
    page.wait_for_selector(".layout-recommended", timeout=30_000)
    assert actions <= 6
    assert page.locator(".layout-compare__one").count() >= 1


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_an_answers_light_stands_beside_its_words_where_there_is_room(open_page, plan, size):
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    page = open_page(reverse("layout_answer", args=[plan.pk, 1]), size)
    words = page.locator(".layout-answer__words").bounding_box()
    light = page.locator(".layout-answer__light").bounding_box()
    if size is DESK:
        assert light["x"] >= words["x"] + words["width"] and abs(light["y"] - words["y"]) < 2
        assert light["width"] > 0.8 * words["width"]
    else:
        assert light["y"] >= words["y"] + words["height"]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_its_pages_are_sound(open_page, plan, size, scheme):
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    page = open_page(reverse("tank_plan_list", args=[plan.tank_id]), size)
    told = complaints_of(page)
    page.emulate_media(color_scheme=scheme)
    here = page.url.removesuffix(reverse("tank_plan_list", args=[plan.tank_id]))
    for url in (
        reverse("tank_plan_list", args=[plan.tank_id]),
        reverse("layout_new"),
        reverse("layout_detail", args=[plan.pk]),
        reverse("layout_answer", args=[plan.pk, 1]),
        reverse("plan_link_list", args=[plan.pk]),
    ):
        page.goto(here + url)
        folded = page.locator("details:not([open]) > summary")
        for _ in range(folded.count()):
            folded.first.press("Enter")
        assert Axe().run(page).response["violations"] == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert told == []
