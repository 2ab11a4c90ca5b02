"""Readings typed beside the tank with no network: none lost, none twice, in their order."""

import re
import time

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from apps.surveys.models import PlannedPoint
from apps.surveys.recording import rows_of
from tests.browser.conftest import sign_in
from tests.factories import PASSWORD, make_survey, make_tank, make_user

SMALL_PHONE = {"width": 360, "height": 640}
# A device whose clock is wrong by a day, in either direction.
CLOCK_OFF = """(() => {
    const Real = Date, off = %d;
    window.Date = class extends Real {
        constructor(...given) { given.length ? super(...given) : super(Real.now() + off); }
        static now() { return Real.now() + off; }
    };
})()"""
A_DAY_MS = 24 * 3600 * 1000


@pytest.fixture
def keeper(transactional_db):
    return make_user(email="keeper@example.org")


def planned_survey(keeper, count):
    """Make a survey with `count` planned points in rows of nine."""
    survey = make_survey(make_tank(keeper), readings=[])
    PlannedPoint.objects.bulk_create(
        PlannedPoint(
            survey=survey,
            number=i + 1,
            x_cm=5 + 6 * (i % 9),
            y_cm=10 + 10 * (i // 9 % 5),
            depth_cm=5 + 5 * (i // 9),
        )
        for i in range(count)
    )
    return survey


def open_entry(context, wire, survey):
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(f"{wire.url}/surveys/{survey.pk}/enter/")
    expect(page.locator("#enter-desk")).to_be_visible()
    return page


def wait_for_worker(page):
    page.wait_for_selector("html[data-offline-ready]", state="attached")


def tap(page, keys):
    for key in keys:
        page.locator(f'.enter-pad [data-key="{key}"]').click()


def type_value(page, value):
    page.keyboard.type(str(value))
    page.keyboard.press("Enter")


def kept_here(page, count):
    expect(page.locator("#enter-here")).to_have_text(str(count))


def saved(page, count):
    expect(page.locator("#enter-saved")).to_have_text(str(count), timeout=40_000)


def values(survey):
    return [row.value_umol for row in rows_of(survey)]


def eventually(ask, wanted):
    """Wait until a question to the database has the wanted answer, at most 30 s."""
    until = time.monotonic() + 30
    while (found := ask()) != wanted and time.monotonic() < until:
        time.sleep(0.1)
    assert found == wanted


def press(page, name):
    page.locator(f"[data-do={name}]").first.click()


def test_forty_readings_offline_browser_restarted_network_back(phone, wire, keeper):
    survey = planned_survey(keeper, 40)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    wait_for_worker(page)
    wire.cut()
    for value in range(101, 121):
        type_value(page, value)
    kept_here(page, 20)
    page.close()  # The tab is killed ...
    page = context.new_page()
    page.goto(f"{wire.url}/surveys/{survey.pk}/enter/")
    kept_here(page, 20)
    expect(page.locator("#enter-where")).to_have_text("Point 21 of 40")
    press(page, "look")
    expect(page.locator("#enter-look")).to_contain_text("about")
    # The first map: some hundreds of coloured cells, drawn without any server.
    assert page.locator("#enter-plan rect").count() > 200
    press(page, "look")
    for value in range(121, 141):
        type_value(page, value)
    kept_here(page, 40)
    context.close()  # ... and the whole browser.

    context = phone()
    page = context.pages[0]
    page.goto(f"{wire.url}/surveys/{survey.pk}/enter/")
    kept_here(page, 40)
    expect(page.locator("#enter-where")).to_have_text("All 40 points are read")
    expect(page.locator(".enter-spot .enter-unit")).to_be_hidden()
    assert values(survey) == []
    wire.mend()
    saved(page, 40)
    kept_here(page, 0)
    assert values(survey) == [float(v) for v in range(101, 141)]
    assert survey.edits.count() == 40


def test_replies_lost_after_the_write_double_nothing(phone, wire, keeper):
    survey = planned_survey(keeper, 9)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    saved(page, 0)
    wire.lose_replies = 5
    for value in range(201, 210):
        type_value(page, value)
    saved(page, 9)
    kept_here(page, 0)
    assert wire.lost == 5
    assert values(survey) == [float(v) for v in range(201, 210)] and survey.edits.count() == 9


def test_double_taps_keep_one_reading(phone, wire, keeper):
    survey = planned_survey(keeper, 3)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    for _ in range(3):
        tap(page, "120")
        page.locator("[data-do=keep]").dblclick()
    saved(page, 3)
    assert values(survey) == [120.0] * 3 and survey.edits.count() == 3


@pytest.mark.parametrize("off", [A_DAY_MS, -A_DAY_MS], ids=["a day ahead", "a day behind"])
def test_a_clock_off_by_a_day_changes_nothing(phone, wire, keeper, off):
    """A phone with a wrong clock reads a point after another phone, which then reads it again."""
    survey = planned_survey(keeper, 2)
    right, wrong = phone("right"), phone("wrong")
    wrong.add_init_script(CLOCK_OFF % off)
    for context in (right, wrong):
        sign_in(context, wire.url, keeper)
    first = open_entry(right, wire, survey)
    type_value(first, 100)
    saved(first, 1)
    second = open_entry(wrong, wire, survey)
    assert abs(second.evaluate("Date.now()") - first.evaluate("Date.now()")) > A_DAY_MS / 2
    press(second, "back-point")
    expect(second.locator("#enter-where")).to_have_text("Point 1 of 2")
    type_value(second, 111)
    eventually(lambda: values(survey), [111.0])
    first.reload()
    expect(first.locator("#enter-where")).to_have_text("Point 2 of 2")
    press(first, "back-point")
    type_value(first, 122)
    eventually(lambda: values(survey), [122.0])
    assert [edit.row["value_umol"] for edit in survey.edits.all()] == [100, 111, 122]


def test_two_devices_offline_merge_by_point(phone, wire, keeper):
    survey = planned_survey(keeper, 4)
    contexts = phone("one"), phone("two")
    pages = []
    for context in contexts:
        sign_in(context, wire.url, keeper)
        page = open_entry(context, wire, survey)
        wait_for_worker(page)
        pages.append(page)
    wire.cut()
    type_value(pages[0], 10)
    type_value(pages[0], 20)
    press(pages[1], "skip")
    type_value(pages[1], 21)
    type_value(pages[1], 31)
    for page in pages:
        kept_here(page, 2)
    wire.mend()
    eventually(survey.edits.count, 4)
    stand = {row.x_cm: row.value_umol for row in rows_of(survey)}
    assert stand[5] == 10 and stand[17] == 31 and stand[11] in (20, 21)
    kept = sorted(e.row["value_umol"] for e in survey.edits.all() if e.row["x_cm"] == 11)
    assert kept == [20, 21]


def test_expired_sign_in_keeps_the_queue_and_asks(phone, wire, keeper):
    survey = planned_survey(keeper, 3)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    Session.objects.all().delete()
    type_value(page, 50)
    expect(page.get_by_text("You are no longer signed in.")).to_be_visible()
    kept_here(page, 1)
    with context.expect_page() as popup:
        page.get_by_role("link", name="Sign in in a new tab").click()
    other = popup.value
    other.locator("[name=login]").fill("keeper@example.org")
    other.locator("[name=password]").fill(PASSWORD)
    other.locator("[name=password]").press("Enter")
    other.wait_for_url(re.compile(r"/tanks/"))
    other.close()
    saved(page, 1)
    assert values(survey) == [50.0]


def test_signing_out_with_unsent_readings_warns_and_leaks_nothing(phone, wire, keeper):
    survey = planned_survey(keeper, 3)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    wait_for_worker(page)
    page.route("**/sync/", lambda route: route.abort())
    type_value(page, 77)
    kept_here(page, 1)
    other = context.new_page()
    other.goto(f"{wire.url}/tanks/")
    expect(
        other.get_by_text("1 reading kept on this device is not saved yet").first
    ).to_be_visible()
    other.get_by_role("button", name="Sign out").click()
    expect(other.get_by_text("If you sign out now, what is not saved waits here")).to_be_visible()
    page.close()
    other.get_by_role("button", name="Sign out all the same").click()
    other.wait_for_url(f"{wire.url}/")
    wire.cut()
    other.goto(f"{wire.url}/surveys/{survey.pk}/enter/")
    expect(other.get_by_text("Nobody is signed in on this device")).to_be_visible()
    assert "Harbour cube" not in other.content() and "77" not in other.locator("main").inner_text()
    wire.mend()

    # The next keeper finds nothing; the first one's reading waits and is sent as theirs alone.
    sign_in(context, wire.url, make_user(email="next@example.org"))
    other.goto(f"{wire.url}/surveys/enter/")
    other.goto(f"{wire.url}/tanks/")
    other.goto(f"{wire.url}/surveys/enter/")
    expect(other.get_by_text("None yet.")).to_be_visible()
    sign_in(context, wire.url, keeper)
    other.goto(f"{wire.url}/surveys/{survey.pk}/enter/")
    saved(other, 1)
    assert values(survey) == [77.0] and survey.edits.get().sent_by == keeper


def test_undo_without_end_and_bursts(phone, wire, keeper):
    survey = planned_survey(keeper, 4)
    context = phone()
    sign_in(context, wire.url, keeper)
    page = open_entry(context, wire, survey)
    type_value(page, 100)
    type_value(page, "120+135+129")
    type_value(page, "110-140")
    press(page, "back-point")
    press(page, "back-point")
    type_value(page, 90)
    eventually(lambda: values(survey), [100, 90, 125])
    rows = rows_of(survey)
    # A swing between two ends has the deviation of a sine wave: (high - low) / sqrt 8.
    assert rows[2].spread_umol == pytest.approx(30 / 8**0.5)
    press(page, "undo")
    expect(page.get_by_text("Taken back.")).to_be_visible()
    expect(page.locator("#enter-value")).to_have_text("128")
    eventually(lambda: values(survey), [100, 128, 125])
    assert rows_of(survey)[1].spread_umol == pytest.approx(57**0.5)
    for left in (2, 1, 0):
        press(page, "undo")
        expect(page.locator("#enter-readings tbody tr")).to_have_count(left)
    expect(page.locator("#enter-readings tbody tr")).to_have_count(0)
    press(page, "undo")
    expect(page.get_by_text("There is nothing left to take back")).to_be_visible()
    eventually(lambda: values(survey), [])
    assert [e.burst for e in survey.edits.all()][:3] == [[], [120, 135, 129], [110, 140]]


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
    expect(page.get_by_text("is far from its neighbours")).to_be_visible()
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
    page.get_by_text("The sensor is somewhere else").click()
    page.locator("#enter-x").fill("5 1/")
    expect(page.locator("#enter-said")).to_contain_text("Say a place within the water")
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
    expect(where).to_have_text("All 3 points are read")
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
