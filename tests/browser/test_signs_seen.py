"""Signs in a reader's own colours and on paper: nothing rests on a colour of ours."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from tests.browser.conftest import PHONE
from tests.factories import make_coral, make_lit_survey, make_tank

BEFORE = """(sign, property) => getComputedStyle(sign, "::before")[property]"""
CANVAS_TEXT = """() => {
  const probe = document.createElement("span");
  probe.style.color = "CanvasText";
  document.body.append(probe);
  const color = getComputedStyle(probe).color;
  probe.remove();
  return color;
}"""


@pytest.fixture
def tank(keeper):
    tank = make_tank(keeper)
    make_lit_survey(tank)
    # Near the lamp, and far from it.
    for name, at_cm in (("High", (30, 30, 2)), ("Deep", (88, 43, 44))):
        make_coral(tank, name=name, at_cm=at_cm)
    return tank


@pytest.fixture
def corals(open_page, tank):
    return open_page(reverse("coral_list", args=[tank.pk]), PHONE)


def test_a_state_is_a_frame_and_a_word_in_forced_colours(corals):
    corals.emulate_media(forced_colors="active")
    text = corals.evaluate(CANVAS_TEXT)
    states = corals.locator("main .state:visible")
    assert states.count() >= 2
    for state in states.all():
        assert state.inner_text().strip()
        assert state.evaluate(BEFORE, "borderTopColor") == text
        assert float(state.evaluate(BEFORE, "borderTopWidth").removesuffix("px")) >= 1


def test_the_room_one_is_in_is_marked_in_forced_colours(corals):
    corals.emulate_media(forced_colors="active")
    colour = "link => getComputedStyle(link).borderTopColor"
    rooms = corals.locator(".rooms a:visible")
    here = corals.locator(".rooms a[aria-current]:visible")
    expect(here).to_have_count(1)
    others = {link.evaluate(colour) for link in rooms.all()} - {here.evaluate(colour)}
    assert len(others) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_stands_round_a_map_takes_the_readers_ink(open_page, tank, scheme):
    page = open_page(reverse("light_map", args=[tank.pk]), PHONE)
    page.emulate_media(forced_colors="active", color_scheme=scheme)
    tick = page.locator(".map-ticks text").first
    assert tick.evaluate("one => getComputedStyle(one).fill") == page.evaluate(CANVAS_TEXT)


def test_a_state_is_printed_with_its_sign(corals):
    corals.emulate_media(media="print")
    for state in corals.locator("main .state:visible").all():
        assert state.evaluate(BEFORE, "printColorAdjust") == "exact"


def test_the_bar_has_five_places_that_stay(open_page, tank):
    def places(name):
        page = open_page(reverse(name, args=[tank.pk]), PHONE)
        return [round(box["x"]) for link in page.locator(".rooms a:visible").all()
                if (box := link.bounding_box())]  # fmt: skip

    first = places("light_map")
    assert len(first) == 5
    for room in ("coral_list", "tank_plan_list", "share_link_list", "tank_detail"):
        assert places(room) == first


def test_nothing_moves_for_who_asks_for_stillness(corals):
    corals.emulate_media(reduced_motion="reduce")
    moving = "() => document.getAnimations().length"
    corals.locator(".rooms a").first.hover()
    assert corals.evaluate(moving) == 0
