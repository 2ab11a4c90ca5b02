"""Every page in both themes at every size: nothing overflows, and axe finds nothing at all.

`make test-full` looks at all of them on all screens, `make test` at one in forty-eight.
"""

import itertools
import os

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import DESK, PHONE, sign_in
from tests.factories import make_light_change, make_lit_survey, make_note, make_tank
from tests.test_every_address import ALL, OPEN, Rows

SMALL = {"width": 320, "height": 568}
SCREENS = list(itertools.product(["light", "dark"], [SMALL, PHONE, DESK]))
NAMES = sorted(name for name in ALL.keys() - OPEN if not name.startswith("api-"))
STRIDE = 1 if os.environ.get("WHOLE") == "on" else 8 * len(SCREENS)


def lived_in_tank(keeper):
    tank = make_tank(keeper)
    make_light_change(tank)
    make_lit_survey(tank)
    return tank


def shown(page, address):
    """Open an address; tell whether it is a page, not a file, a part or a place for forms."""
    answer = page.request.get(address)
    if not answer.ok or b"<html" not in answer.body():
        return False
    page.goto(address)
    return True


def faults_of(page):
    """Return what is wrong with the page as it is shown, by name."""
    found = [violation["id"] for violation in Axe().run(page).response["violations"]]
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return found + [f"{wide} px too wide"] * (wide > 0)


@pytest.mark.parametrize(
    "screen", range(len(SCREENS)), ids=[f"{scheme}-{size['width']}" for scheme, size in SCREENS]
)
def test_every_page_is_sound_on_this_screen(context, live_server, keeper, complaints, page, screen):
    scheme, size = SCREENS[screen]
    sign_in(context, live_server.url, keeper)
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    faults, seen = {}, 0
    for first in range(8 * screen % STRIDE, len(NAMES), STRIDE):
        # The first of each stretch that is a page at all.
        for name in NAMES[first : first + STRIDE]:
            rows = Rows(lived_in_tank(keeper))
            make_note(rows.coral)
            if not shown(page, live_server.url + rows.address(name)):
                continue
            seen += 1
            if found := faults_of(page):
                faults[name] = found
            break
    assert faults == {} and seen and complaints == []
