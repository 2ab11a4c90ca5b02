"""The whole job as a new keeper on a phone: sign up to the share link, seen without an account."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from apps.corals.models import Coral
from apps.surveys.models import Survey
from apps.tanks.models import Tank
from tests.browser.conftest import PHONE
from tests.paths import DATA

TRACED = DATA / "traced_tanks" / "case-04"
# PAR of a made 3x3x3 survey: falls with depth and towards the panes.
VALUES = [
    round(240 * (1 - 0.28 * k) * (1 - 0.18 * abs(i - 1)) * (1 - 0.12 * abs(j - 1)))
    for k in range(3)
    for j in range(3)
    for i in range(3)
]


@pytest.fixture
def phone(page, complaints, transactional_db):
    page.set_viewport_size(PHONE)
    page.complaints = complaints
    return page


def press(page, name):
    page.get_by_role("button", name=name).click()


def sign_up(page, base):
    page.goto(f"{base}/")
    page.get_by_role("link", name="Sign up").first.click()
    page.get_by_label("E-mail").fill("new@example.org")
    page.locator("input[type=password]").first.fill("another-password-for-tests-64")
    press(page, "Sign up")


def describe_tank(page, base):
    page.goto(f"{base}/tanks/new/")
    page.locator("[name=name]").fill("Window reef")
    # As in case-04 of the traced tanks.
    for name, value in (("length_cm", "60"), ("width_cm", "45"), ("depth_cm", "42")):
        page.locator(f"[name={name}]").fill(value)
    page.locator("main form button[type=submit]").click()
    page.wait_for_url(re.compile(r"/rocks/draw/"))
    page.get_by_role("link", name="Skip", exact=True).click()
    page.wait_for_url(re.compile(r"/tanks/\d+/$"))
    return Tank.objects.get()


def new_survey(page, base, tank):
    page.goto(f"{base}/tanks/{tank.pk}/surveys/new/")
    page.locator("#survey-form button[type=submit]").click()
    page.wait_for_url(re.compile(r"/plan/"))
    survey = Survey.objects.order_by("pk").last()
    page.goto(f"{base}/surveys/{survey.pk}/readings/")
    return survey


def type_grid(page, survey):
    page.locator(".grid-aid > summary").click()
    press(page, "Put these points in the table")
    cells = page.locator("#reading-rows input[name=par]")
    expect(cells).to_have_count(27)
    expect(cells.first).to_be_focused()
    for value in VALUES:
        page.keyboard.type(str(value))
        page.keyboard.press("Enter")
    press(page, "Save readings")
    expect(
        page.locator("#notice, main").get_by_text(re.compile("27 readings")).first
    ).to_be_visible()
    assert [r.value_umol for r in survey.readings.all()] == VALUES


def import_case(page, base, survey):
    page.goto(f"{base}/surveys/{survey.pk}/import/")
    page.locator("input[type=file]").set_input_files(TRACED / "readings.csv")
    press(page, "Check the table")
    page.get_by_role("button", name=re.compile(r"Import \d+")).click()
    page.wait_for_url(re.compile(rf"/surveys/{survey.pk}/(readings/)?$"))
    lines = (TRACED / "readings.csv").read_text().strip().splitlines()
    assert survey.readings.count() == len(lines) - 1


def place_coral(page, base, tank):
    page.goto(f"{base}/tanks/{tank.pk}/corals/new/")
    page.locator("[name=name]").fill("Lavender branch")
    page.get_by_label(re.compile("SPS")).check()
    for name, value in (("x_cm", "30"), ("y_cm", "22"), ("depth_cm", "15")):
        page.locator(f"[name$={name}]").fill(value)
    press(page, "Save")
    page.wait_for_url(re.compile(r"/corals/\d+/$"))
    return Coral.objects.get()


def note_paling(page, base, coral):
    page.goto(f"{base}/corals/{coral.pk}/notes/new/")
    # The mark inside the chip takes the tap on its label.
    page.locator("input[type=radio][value=paling]").check(force=True)
    press(page, "Save the note")
    page.wait_for_url(re.compile(r"/corals/\d+/(#.*)?$"))
    expect(page.get_by_text(re.compile("paling", re.I)).first).to_be_visible()
    assert coral.notes.get().seen == "paling"


def share(page, base, tank):
    page.goto(f"{base}/tanks/{tank.pk}/sharing/")
    press(page, "Make the link")
    return page.locator("#share-address").input_value()


def test_main_job_on_a_phone(phone, live_server, browser):
    base = live_server.url
    sign_up(phone, base)
    tank = describe_tank(phone, base)
    type_grid(phone, new_survey(phone, base, tank))
    import_case(phone, base, new_survey(phone, base, tank))

    phone.goto(f"{base}/tanks/{tank.pk}/map/")
    expect(phone.locator("svg[role]").first).to_be_visible()
    error = phone.locator("#map-trust [data-typical-error]")
    phone.locator("#map-trust > summary").click()
    phone.locator("#map-trust details:has([data-typical-error]) > summary").click()
    expect(error).to_be_visible()

    coral = place_coral(phone, base, tank)
    note_paling(phone, base, coral)
    expect(phone.get_by_text(re.compile(r"PAR at the day")).first).to_be_visible()
    phone.goto(f"{base}/tanks/{tank.pk}/outcomes/")
    case = phone.get_by_role("list", name="Cases").get_by_role("link").first
    expect(case).to_be_visible()
    case.click()
    expect(phone.locator("#case-proof[data-state]")).to_be_visible()
    address = share(phone, base, tank)
    assert phone.complaints == []

    visitor = browser.new_context(viewport=PHONE).new_page()
    visitor.goto(live_server.opened_here(address))
    expect(visitor.get_by_text("Window reef").first).to_be_visible()
    # The list of corals folds below the map.
    expect(visitor.get_by_text("Lavender branch").first).to_be_attached()
    text = visitor.content()
    assert "new@example.org" not in text and "paling" not in text
    assert visitor.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert Axe().run(visitor).response["violations"] == []


# --- The first map in ten minutes --------------------------------------------------------------

COUNTED = """() => {
  const counts = JSON.parse(sessionStorage.counted ?? '{"taps": 0, "typed": 0, "screens": []}');
  const keep = () => (sessionStorage.counted = JSON.stringify(counts));
  counts.screens.push(location.pathname);
  keep();
  addEventListener("pointerdown", (event) => {
    if (!event.target.closest(".enter-pad")) counts.taps += 1;
    keep();
  }, true);
  addEventListener("keydown", (event) => {
    if (event.key.length === 1) counts.typed += 1;
    keep();
  }, true);
}"""


def type_into(page, name, text):
    """Do what a thumb does: tap the field, then type."""
    field = page.locator(f"[name={name}]")
    field.click()
    field.press_sequentially(text)


def draw_rock(page):
    """Drag a box over the plan."""
    box = page.locator("svg.plan .plan__water").bounding_box()
    x, y = box["x"] + 0.3 * box["width"], box["y"] + 0.3 * box["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 0.3 * box["width"], y + 0.3 * box["height"], steps=4)
    page.mouse.up()


def read_all(page, survey):
    """Type a value at every point on the pad."""
    for point in survey.planned_points.all():
        value = round(260 * 0.97**point.depth_cm - abs(point.x_cm - 30))
        for key in str(value):
            page.locator(f'.enter-pad [data-key="{key}"]').click()
        page.locator("[data-do=keep]").click()


def test_first_map_takes_eight_screens_thirty_taps_and_sixty_letters(
    phone, live_server, context, capsys
):
    sign_up(phone, live_server.url)
    phone.wait_for_url(re.compile(r"/tanks/$"))
    phone.evaluate("sessionStorage.removeItem('counted')")
    context.add_init_script(f"({COUNTED})()")
    # The screen that sign-up ends on is the first.
    phone.reload()
    phone.locator("main").get_by_role("link", name="New tank").click()
    for name, value in (("length_cm", "60"), ("width_cm", "45"), ("depth_cm", "42")):
        type_into(phone, name, value)
    phone.locator("main form button[type=submit]").click()
    phone.wait_for_url(re.compile(r"/rocks/draw/"))
    draw_rock(phone)
    press(phone, "Save")
    # The lights can wait.
    phone.locator("#beginning .button--quiet").click()
    phone.locator("#survey-form button[type=submit]").click()
    phone.wait_for_url(re.compile(r"/plan/"))
    expect(phone.locator("#plan-preview svg")).to_have_count(2)
    phone.locator("[name=then][value=pad]").click()
    phone.wait_for_url(re.compile(r"/enter/"))
    survey = Survey.objects.get()
    read_all(phone, survey)
    phone.wait_for_url(re.compile(r"/map/"), timeout=30_000)
    expect(phone.locator("main svg[role]").first).to_be_visible()
    counts = phone.evaluate("JSON.parse(sessionStorage.counted)")
    screens, taps, typed = len(counts["screens"]), counts["taps"], counts["typed"]
    with capsys.disabled():
        print(f"\nfirst map: {screens} screens, {taps} taps beside the pad, {typed} typed")
    assert (screens <= 8, taps <= 30, typed <= 60) == (True, True, True), counts
    # A grid of 16 gives a map off by 4.5 % (docs/measurements.md).
    assert survey.readings.count() == survey.planned_points.count() >= 16
    rock = Tank.objects.get().rocks.get()
    assert 10 < rock.length_cm < 25 and rock.depth_cm + rock.height_cm == pytest.approx(42)
    assert phone.complaints == []
