"""From the front door to a tank shared with a friend, on a phone, as new keepers."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from knox.models import AuthToken
from playwright.sync_api import expect

from apps.accounts.models import User
from apps.tanks.models import Tank
from tests.browser.conftest import PHONE


@pytest.fixture
def phone(browser, live_server, transactional_db):
    """Return a function that opens a phone of its own: no cookie shared with another."""
    opened = []

    def new_phone():
        context = browser.new_context(
            viewport=PHONE, base_url=live_server.url, timezone_id="Europe/Berlin"
        )
        opened.append(context)
        return context.new_page()

    yield new_phone
    for context in opened:
        context.close()


def sign_up(page, email):
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill("another-password-for-tests-93")
    page.get_by_role("main").get_by_role("button", name="Sign up").click()


def make_tank(page):
    page.get_by_role("link", name="New tank").click()
    page.get_by_label("Name").fill("Window tank")
    page.get_by_label("Length").fill("36 in")
    page.get_by_label("Width").fill("45,5")
    page.get_by_label("Water depth").fill("50")
    page.locator("main form button[type=submit]").click()
    page.get_by_role("link", name="Skip", exact=True).click()
    expect(page.get_by_role("heading", name="Window tank")).to_be_visible()


@pytest.fixture
def keeper(phone):
    """A phone on which a new keeper has just described a tank."""
    page = phone()
    page.goto("/")
    page.get_by_role("main").get_by_role("link", name="Sign up").click()
    sign_up(page, "new@example.org")
    make_tank(page)
    return page


def found_by_axe(page):
    return [found["id"] for found in Axe().run(page).response["violations"]]


def overflow(page):
    return page.evaluate("document.documentElement.scrollWidth > innerWidth")


def test_new_keeper_describes_a_tank(keeper):
    tank = Tank.objects.get()
    # 36 in is 91.44 cm.
    assert (tank.length_cm, tank.width_cm, tank.time_zone) == (91.44, 45.5, "Europe/Berlin")
    assert User.objects.get().time_zone == "Europe/Berlin"


def test_tank_half_typed_survives_a_closed_tab(keeper):
    keeper.goto("/tanks/new/")
    keeper.get_by_label("Name").fill("Half typed")
    keeper.goto("about:blank")
    keeper.goto("/tanks/new/")
    expect(keeper.get_by_label("Name")).to_have_value("Half typed")


def test_friend_comes_in_by_the_link(keeper, phone, live_server):
    keeper.get_by_role("link", name="Tank settings").click()
    keeper.get_by_role("link", name="Invite someone").click()
    keeper.get_by_label("Their e-mail").fill("friend@example.org")
    keeper.get_by_role("button", name="Make the invitation").click()
    link = keeper.get_by_label("The link").input_value()

    friend = phone()
    friend.goto(live_server.opened_here(link))
    expect(friend.get_by_role("heading", name="Invitation to Window tank")).to_be_visible()
    friend.get_by_role("link", name="Make an account").click()
    sign_up(friend, "another@example.org")
    friend.get_by_role("button", name="Accept").click()
    expect(friend.get_by_role("heading", name="Window tank")).to_be_visible()
    friend.get_by_role("link", name="Tank settings").click()
    expect(friend.get_by_role("link", name="Leave")).to_be_visible()


def test_removed_rock_comes_back(keeper):
    keeper.get_by_role("link", name="Tank settings").click()
    keeper.get_by_role("link", name="Add a rock").click()
    for label in ("From the left end", "From the front pane", "Top below the surface"):
        keeper.get_by_label(label).fill("10")
    for label in ("Length", "Width", "Height"):
        keeper.get_by_label(label).fill("20")
    keeper.get_by_role("button", name="Save").click()
    rocks = keeper.locator("svg.plan .plan__rock")
    expect(rocks).to_have_count(1)
    keeper.get_by_text("1 rock", exact=True).click()
    keeper.get_by_role("listitem").get_by_role("link", name="rock", exact=True).click()
    keeper.get_by_role("button", name="Delete this rock").click()
    expect(rocks).to_have_count(0)
    keeper.get_by_role("button", name="Undo").click()
    expect(rocks).to_have_count(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_rooms_are_sound_for_axe_and_fit_a_phone(keeper, scheme):
    keeper.emulate_media(color_scheme=scheme)
    pk = Tank.objects.get().pk
    told = []
    keeper.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    rooms = ["/tanks/", f"/tanks/{pk}/", f"/tanks/{pk}/settings/", f"/tanks/{pk}/rooms/",
             f"/tanks/{pk}/edit/", f"/tanks/{pk}/rocks/new/",
             f"/tanks/{pk}/invitations/new/", "/settings/", "/settings/tokens/",
             "/accounts/2fa/", "/accounts/email/", "/accounts/password/change/"]  # fmt: skip
    for room in rooms:
        keeper.goto(room)
        assert (room, found_by_axe(keeper), overflow(keeper), told) == (room, [], False, [])


def test_pages_before_the_door_are_sound_for_axe(phone):
    page = phone()
    for room in ["/", "/accounts/login/", "/accounts/signup/", "/accounts/password/reset/"]:
        page.goto(room)
        assert (room, found_by_axe(page), overflow(page)) == (room, [], False)


def test_a_token_can_be_revoked_on_the_narrowest_phone(keeper):
    AuthToken.objects.create(User.objects.get())
    keeper.set_viewport_size({"width": 320, "height": 640})
    keeper.goto("/settings/tokens/")
    revoke = keeper.get_by_role("button", name="Revoke").bounding_box()
    assert revoke["x"] + revoke["width"] <= 320 and revoke["height"] >= 44


@pytest.mark.parametrize("width", [320, 390])
def test_a_long_zone_name_leaves_the_page_its_width(keeper, width):
    Tank.objects.update(time_zone="America/Argentina/ComodRivadavia")
    keeper.set_viewport_size({"width": width, "height": 844})
    keeper.get_by_role("link", name="Tank settings").click()
    keeper.locator("[aria-labelledby=box-head] summary").click()
    expect(keeper.locator(".facts").get_by_text("ComodRivadavia")).to_be_visible()
    over = """[document.documentElement.scrollWidth - innerWidth,
        ...[...document.querySelectorAll(".facts > div")].map((b) => b.scrollWidth - b.clientWidth)]
    """
    assert max(keeper.evaluate(over)) <= 0
