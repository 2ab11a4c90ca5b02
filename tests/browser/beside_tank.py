"""What a keeper does on the entry page beside the tank, and what then stands there."""

import time

from playwright.sync_api import expect

from apps.surveys.models import PlannedPoint
from apps.surveys.recording import rows_of
from tests.factories import make_survey, make_tank

SMALL_PHONE = {"width": 360, "height": 640}


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
