"""A light change and its scores on a phone: nothing sideways, nothing axe finds serious."""

import datetime as dt
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from apps.lighting.change.done import What
from apps.lighting.rig import rig_in_force
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
    for fold in (".rig-drawing__sides", ".rig-row__fold"):
        page.locator(f"{fold} > summary").first.click()
    side = page.locator("[data-rig-view=front] .rig-view__fixture").first
    for typed in ("8 1/2", "9¾"):
        page.locator("[name=hung-0-height_cm]").fill(typed)
        expect(side).to_have_attribute("aria-label", re.compile(f"{typed} above water"))
    side.focus()
    page.keyboard.press("ArrowUp")
    # 9.75 in and one step of 1 cm.
    expect(page.locator("[name=hung-0-height_cm]")).to_have_value("10.1")


@pytest.fixture
def dimmed_tank(keeper):
    """A surveyed tank under two lamps, with a coral that half the light would leave too dim."""
    tank, now = make_tank(keeper), timezone.now()
    make_lit_survey(tank, taken_at=now - dt.timedelta(days=20))
    hang(tank.light_changes.get(), keeper.fixtures.get(), x_cm=15, level_percent=20)
    make_coral(tank, at_cm=(30, 25, 10), band_low_umol=150, band_high_umol=1200)
    return tank


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_was_done_is_one_number_with_its_effect_shown(open_page, dimmed_tank, scheme):
    path = reverse("light_change_done", args=[dimmed_tank.pk])
    page = open_page(path)
    page.emulate_media(color_scheme=scheme)
    page.get_by_role("link", name="Turned up or down").click()
    effect = page.locator("#change-effect")
    page.get_by_label("Turned to").fill("10")
    expect(effect.get_by_role("link")).to_have_count(1)
    expect(effect.locator(".state--below")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollHeight") <= 1200
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert Axe().run(page).response["violations"] == []
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"entry=\d+"))
    expect(page.locator("#light-now ~ form button")).to_be_visible()
    levels = [row.level_percent for row in rig_in_force(dimmed_tank, timezone.now())]
    assert levels == [10, 10]


@pytest.mark.parametrize("what", ["", *What])
def test_each_kind_of_change_fits_a_phone(open_page, dimmed_tank, what):
    page = open_page(reverse("light_change_done", args=[dimmed_tank.pk]) + f"?what={what}")
    height, words, wide = page.evaluate(
        """() => [document.documentElement.scrollHeight,
        document.querySelector("main").innerText.split(/\\s+/).length,
        document.documentElement.scrollWidth]"""
    )
    assert (height <= 1200, words <= 100, wide <= 390) == (True, True, True), (height, words, wide)
