"""A light change and its scores on a phone: nothing sideways, nothing axe finds serious."""

import datetime as dt
import re

from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from tests.factories import (
    hang,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_survey,
    make_tank,
)


def test_pages_of_a_change_fit_and_read_well_on_a_phone(open_page, keeper):
    tank, now = make_tank(keeper), timezone.now()
    make_lit_survey(tank, taken_at=now - dt.timedelta(days=20))
    make_coral(tank, at_cm=(30, 30, 20))
    change = make_light_change(
        tank, happened_at=now - dt.timedelta(days=5), factor=0.9, reason="raised"
    )
    hang(change, keeper.fixtures.get(), height_cm=33)
    make_survey(tank, taken_at=now - dt.timedelta(days=1))
    for name, pk in (
        ("light_change_effect", change.pk),
        ("light_change_list", tank.pk),
        ("forecast_scores", tank.pk),
        ("tank_detail", tank.pk),
    ):
        page = open_page(reverse(name, args=[pk]))
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, name
        found = Axe().run(page).response["violations"]
        assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == [], name
        page.close()


def test_a_fraction_of_an_inch_is_drawn_as_it_is_saved(open_page, keeper):
    keeper.units = "in"
    keeper.save()
    tank = make_tank(keeper)
    hang(make_light_change(tank), height_cm=20)
    page = open_page(reverse("light_change_new", args=[tank.pk]))
    side = page.locator("[data-rig-view=front] .rig-view__fixture").first
    for typed in ("8 1/2", "9¾"):
        page.locator("[name=hung-0-height_cm]").fill(typed)
        expect(side).to_have_attribute("aria-label", re.compile(f"{typed} above water"))
    side.focus()
    page.keyboard.press("ArrowUp")
    # 9.75 in and one step of 1 cm.
    expect(page.locator("[name=hung-0-height_cm]")).to_have_value("10.1")
