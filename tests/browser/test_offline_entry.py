"""Readings typed beside the tank with no network: none lost, none twice, in their order."""

import re

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from apps.surveys.recording import rows_of
from tests.browser.beside_tank import (
    eventually,
    kept_here,
    open_entry,
    planned_survey,
    press,
    saved,
    tap,
    type_value,
    values,
    wait_for_worker,
)
from tests.browser.conftest import sign_in
from tests.factories import PASSWORD, make_user

# A device whose clock is wrong by a day, in either direction.
CLOCK_OFF = """(() => {
    const Real = Date, off = %d;
    window.Date = class extends Real {
        constructor(...given) { given.length ? super(...given) : super(Real.now() + off); }
        static now() { return Real.now() + off; }
    };
})()"""
A_DAY_MS = 24 * 3600 * 1000


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
    expect(page.locator("#enter-where")).to_have_text(re.compile(r"^All 40\b"))
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
    expect(page.get_by_role("link", name="Sign in in a new tab")).to_be_visible()
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
    other.goto(f"{wire.url}/settings/")
    expect(other.locator("[data-waiting=reading][data-count='1']").first).to_be_visible()
    other.get_by_role("button", name="Sign out").click()
    expect(other.get_by_role("alert").get_by_role("button")).to_be_visible()
    page.close()
    other.get_by_role("button", name="Sign out all the same").click()
    other.wait_for_url(f"{wire.url}/")
    wire.cut()
    other.goto(f"{wire.url}/surveys/{survey.pk}/enter/")
    expect(other.locator("#enter-nobody")).to_be_visible()
    assert "Harbour cube" not in other.content() and "77" not in other.locator("main").inner_text()
    wire.mend()

    # The next keeper finds nothing; the first one's reading waits and is sent as theirs alone.
    sign_in(context, wire.url, make_user(email="next@example.org"))
    other.goto(f"{wire.url}/surveys/enter/")
    other.goto(f"{wire.url}/settings/")
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
    expect(page.locator("#enter-said")).not_to_have_text(re.compile(r"^(Taken back\.)?$"))
    eventually(lambda: values(survey), [])
    assert [e.burst for e in survey.edits.all()][:3] == [[], [120, 135, 129], [110, 140]]
