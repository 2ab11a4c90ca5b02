"""Finding a layout in a browser: asked, searched to the end before one's eyes, sound by axe."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

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
    page.wait_for_selector(".layout-cards", timeout=30_000)
    assert page.locator(".layout-progress").count() == 0
    assert page.locator(".layout-cards svg.hung").count() >= 1


def test_a_question_is_asked_and_answered(open_page, plan):
    page = open_page(reverse("tank_layout_new", args=[plan.tank_id]))
    page.get_by_role("button", name="One more zone").click()
    page.get_by_label("Name", exact=True).last.fill("A ledge")
    page.get_by_label("At most so many fixtures").fill("1")
    page.get_by_role("button", name="Search").click()
    # The new zone has no measures yet: told at its fields, with its name kept.
    page.wait_for_selector(".field--wrong")
    assert page.get_by_label("Name", exact=True).last.input_value() == "A ledge"
    page.get_by_label("Take this zone out").last.check()
    page.get_by_role("button", name="Search").click()
    page.wait_for_selector(".layout-cards", timeout=30_000)


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
