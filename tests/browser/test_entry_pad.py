"""The entry page under the thumb: taps, sizes, places and the names of points."""

import datetime as dt
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from apps.surveys.recording import rows_of
from tests.browser.beside_tank import (
    SMALL_PHONE,
    open_entry,
    planned_survey,
    press,
    saved,
    tap,
    type_value,
    values,
)
from tests.browser.conftest import sign_in
from tests.factories import make_lit_survey, make_survey, make_tank


def test_taps_of_a_27_point_survey_on_a_small_phone(phone, wire, keeper, capsys):
    survey = planned_survey(keeper, 27)
    context = phone(size=SMALL_PHONE)
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    page.evaluate(
        "document.addEventListener('click', () => { window.taps = (window.taps ?? 0) + 1; })"
    )
    digits = 0
    for value in range(95, 122):
        tap(page, str(value))
        digits += len(str(value))
        page.locator("[data-do=keep]").click()
    saved(page, 27)
    taps = page.evaluate("window.taps")
    with capsys.disabled():
        print(f"\n27 points: {taps} taps for {digits} digits ({taps - digits} beyond them)")
    assert taps <= digits + 27 and values(survey) == [float(v) for v in range(95, 122)]


@pytest.mark.parametrize("width", [360, 390])
def test_the_pad_fits_a_thumb_and_axe_is_content(phone, wire, keeper, width):
    survey = planned_survey(keeper, 27)
    context = phone(size={"width": width, "height": 640})
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    for value in (100, 110, 120, 130, 900):
        type_value(page, value)
    expect(page.locator("#enter-said")).to_contain_text("900")
    expect(page.locator("#enter-said button")).to_be_visible()
    press(page, "look")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    boxes = [b.bounding_box() for b in page.locator(".enter-pad button, .enter-moves button").all()]
    assert len(boxes) == 20 and all(b["width"] >= 44 and b["height"] >= 44 for b in boxes)
    assert max(b["y"] + b["height"] for b in boxes[:15]) <= 640
    for summary in page.locator("summary").all():
        summary.click()
    assert [f["id"] for f in Axe().run(page).response["violations"]] == []
    press(page, "hand")
    keep, one = (page.locator(s).bounding_box() for s in ("[data-do=keep]", '[data-key="1"]'))
    assert keep["x"] < one["x"]


@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_pad_fits_a_phone_on_its_side(phone, wire, keeper, hand):
    survey = planned_survey(keeper, 27)
    context = phone(size={"width": 844, "height": 390})
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    if hand == "left":
        page.locator("[data-do=hand]").click()
        page.evaluate("scrollTo(0, 0)")
    seen = page.locator(".enter-pad button, .enter-moves button, #enter-plan, .enter-value-line")
    boxes = [place.bounding_box() for place in seen.all()]
    assert len(boxes) == 22
    assert max(b["y"] + b["height"] for b in boxes) <= 390
    assert page.evaluate("document.documentElement.scrollWidth") <= 844
    keep, value = (page.locator(s).bounding_box() for s in ("[data-do=keep]", "#enter-value"))
    assert (keep["x"] < value["x"]) == (hand == "left")


def test_free_points_by_tapping_the_plan(phone, wire, keeper):
    survey = make_survey(make_tank(keeper), readings=[])
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    box = page.locator("#enter-plan").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 4)
    side = page.locator("#enter-side").bounding_box()
    page.mouse.click(side["x"] + side["width"] / 2, side["y"] + side["height"] * 0.9)
    type_value(page, 66)
    saved(page, 1)
    row = rows_of(survey)[0]
    assert row.x_cm == pytest.approx(30, abs=1.5)
    assert 40 < row.y_cm < 52 and 42 < row.depth_cm <= 50


def test_a_place_is_typed_as_read_off_a_tape(phone, wire, keeper):
    keeper.units = "in"
    keeper.save()
    survey = planned_survey(keeper, 2)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    page.locator("details:has(#enter-place) > summary").click()
    page.locator("#enter-x").fill("5 1/")
    expect(page.locator("#enter-said")).to_contain_text(re.compile(r"0 to \d"))
    page.locator("#enter-x").fill("5 1/2")
    expect(page.locator("#enter-said")).to_have_text("")
    tap(page, "66")
    press(page, "keep")
    saved(page, 1)
    assert rows_of(survey)[0].x_cm == pytest.approx(5.5 * 2.54, abs=0.01)


def test_the_screen_is_asked_to_stay_on(phone, wire, keeper):
    survey = planned_survey(keeper, 3)
    context = phone()
    context.add_init_script(
        """Object.defineProperty(navigator, "wakeLock", { value: {
            request(kind) { (window.held ??= []).push(kind); return Promise.resolve({}); } } })"""
    )
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    assert page.evaluate("window.held") == ["screen"]
    # A lock is lost with the page's visibility, so it is asked for anew.
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.evaluate("window.held") == ["screen", "screen"]


def test_points_are_named_by_the_plan_and_those_beside_it_are_not(phone, wire, keeper):
    survey = planned_survey(keeper, 3)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    where = page.locator("#enter-where")
    expect(where).to_have_text("Point 1 of 3")
    for value in (101, 102, 103):
        type_value(page, value)
    expect(where).to_have_text(re.compile(r"^All 3\b"))
    expect(page.locator("[data-do=keep]")).to_be_disabled()
    press(page, "free")
    expect(page.locator("[data-do=keep]")).to_be_enabled()
    type_value(page, 104)
    saved(page, 4)
    press(page, "again")
    expect(where).to_have_text("Point 4, not planned")


def test_a_number_past_the_count_is_told_with_its_place(phone, wire, keeper):
    survey = planned_survey(keeper, 3)
    survey.planned_points.filter(number=1).delete()
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    where = page.locator("#enter-where")
    expect(where).to_have_text("Point 2, 1 of 2 planned")
    press(page, "skip")
    expect(where).to_have_text("Point 3, 2 of 2 planned")
    press(page, "free")
    type_value(page, 104)
    saved(page, 1)
    press(page, "again")
    expect(where).to_have_text("Point 4, not planned")


def test_check_readings_end_as_a_survey_does(phone, wire, keeper):
    survey = planned_survey(keeper, 2)
    make_lit_survey(survey.tank, taken_at=survey.taken_at - dt.timedelta(days=9))
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    type_value(page, 100)
    expect(page.locator("#enter-onward")).to_be_hidden()
    type_value(page, 110)
    expect(page.locator("#enter-onward")).to_be_in_viewport()
    page.wait_for_url("**/map/", timeout=30_000)


def test_two_points_without_an_earlier_map_open_none(phone, wire, keeper):
    survey = planned_survey(keeper, 2)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    for value in (100, 110):
        type_value(page, value)
    saved(page, 2)
    expect(page.locator("#enter-onward")).to_be_hidden()


def test_the_map_opens_after_the_last_point_unless_told_to_stay(phone, wire, keeper):
    survey = planned_survey(keeper, 5)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    for value in (100, 110, 120, 130):
        type_value(page, value)
    saved(page, 4)
    onward = page.locator("#enter-onward")
    expect(onward).to_be_hidden()
    expect(page.locator("#enter-last")).to_contain_text("130")
    type_value(page, 140)
    expect(onward).to_be_visible()
    press(page, "undo")
    expect(onward).to_be_hidden()
    saved(page, 4)
    type_value(page, 141)
    press(page, "stay")
    page.wait_for_timeout(6000)
    assert page.url.endswith("/enter/")
    page.reload()
    expect(page.locator("#enter-desk")).to_be_visible()
    page.wait_for_timeout(6000)
    assert page.url.endswith("/enter/")
    # Read again, the last of all points leads to the map.
    press(page, "back-point")
    type_value(page, 142)
    page.wait_for_url("**/map/**", timeout=30_000)
