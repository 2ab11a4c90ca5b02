"""Rocks drawn on the plan, and the depths of a survey dragged: by pointer, by keys, as numbers."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import expect

from tests.factories import make_survey, make_tank


def drag(page, x, y, dx, dy):
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx, y + dy, steps=5)
    page.mouse.up()


def numbers(page, row):
    names = ("x_cm", "y_cm", "length_cm", "width_cm")
    return [float(page.locator(f"[name=form-{row}-{name}]").input_value()) for name in names]


@pytest.fixture
def plan(open_page, keeper):
    """The page for drawing rock of a tank of 60 by 60 cm."""
    tank = make_tank(keeper)
    return tank, open_page(reverse("rock_draw", args=[tank.pk]))


def test_a_rock_is_dragged_moved_sized_and_deleted(plan):
    tank, page = plan
    water = page.locator(".plan__water").bounding_box()
    drag(page, water["x"] + 20, water["y"] + 20, water["width"] / 3, water["height"] / 3)
    x, y, length, width = numbers(page, 0)
    assert length == pytest.approx(20, abs=1) and width == pytest.approx(20, abs=1)
    rock = page.locator(".plan__rock--live")
    box = rock.bounding_box()
    drag(page, box["x"] + 10, box["y"] + 10, water["width"] / 6, 0)
    assert numbers(page, 0) == [pytest.approx(x + 10, abs=1), y, length, width]
    rock.focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowRight")
    assert numbers(page, 0)[1:3] == [y + 1, length + 1]
    page.locator("#add-rock").click()
    expect(rock).to_have_count(2)
    page.locator("[data-delete-rock]").first.click()
    page.get_by_role("button", name="Save").click()
    page.wait_for_url("**/tanks/*/")
    assert tank.rocks.count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_drawing_rock_fits_a_phone_and_axe_is_content(plan, scheme):
    _, page = plan
    page.emulate_media(color_scheme=scheme)
    page.locator("#add-rock").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert Axe().run(page).response["violations"] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_depth_lines_are_dragged_and_moved_by_keys(open_page, keeper, scheme):
    survey = make_survey(make_tank(keeper), readings=[])
    page = open_page(reverse("survey_plan", args=[survey.pk]))
    page.emulate_media(color_scheme=scheme)
    depths, lines = page.locator("[name=depths]"), page.locator(".depth-line--live")
    expect(depths).to_have_value("10; 25; 40")
    lines.first.focus()
    with page.expect_response("**/plan/"):
        page.keyboard.press("Shift+ArrowDown")
    expect(depths).to_have_value("15; 25; 40")
    expect(lines.first).to_have_attribute("aria-valuenow", "15")
    lines.nth(2).scroll_into_view_if_needed()
    last = lines.nth(2).bounding_box()
    water = page.locator("[data-depth-lines] .point-water").bounding_box()
    with page.expect_response("**/plan/"):
        x, y = last["x"] + last["width"] / 2, last["y"] + last["height"] / 2
        drag(page, x, y, 0, -water["height"] / 10)
    expect(depths).to_have_value("15; 25; 35")
    page.locator("[name=nx]").fill("2")
    expect(page.locator("#plan-count strong")).to_contain_text("12")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert Axe().run(page).response["violations"] == []
    page.locator("[name=then][value=pad]").click()
    page.wait_for_url("**/enter/")
    assert survey.planned_points.count() == 12
