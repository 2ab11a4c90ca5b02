"""Corals on a phone: placed by tapping the plan, noted in few taps, nothing to complain of."""

import datetime as dt
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from apps.corals.models import HealthNote
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from apps.corals.photos.gallery_views import CORALS_A_PAGE
from apps.corals.status import OPEN_AT_MOST
from tests.browser.conftest import DESK, PHONE
from tests.corals.pictures import encoded, sent
from tests.factories import (
    make_coral,
    make_light_change,
    make_note,
    make_survey,
    make_tank,
    make_user,
    make_water_event,
)


@pytest.fixture
def tank(transactional_db):
    return make_tank(make_user(email="owner@example.org"))


@pytest.fixture
def phone(page, tank, live_server):
    client = Client()
    client.force_login(tank.owner)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page.set_viewport_size(PHONE)
    return page


def tap_share(page, view, *, across, down):
    """Tap the water of a view at shares of its width and height."""
    water = page.locator(f"[data-spot-view={view}] [data-water]")
    water.scroll_into_view_if_needed()
    box = water.bounding_box()
    page.mouse.click(box["x"] + across * box["width"], box["y"] + down * box["height"])


def test_coral_is_placed_by_tapping_both_views(phone, live_server, tank, complaints):
    make_survey(tank)
    phone.goto(live_server.url + reverse("coral_new", args=[tank.pk]))
    phone.get_by_label("Name").fill("Lavender table")
    phone.get_by_label(re.compile("SPS")).check()
    tap_share(phone, "above", across=0.25, down=0.25)
    tap_share(phone, "front", across=0.5, down=0.4)
    expect(phone.locator("#spot-light")).to_contain_text("PAR")
    phone.get_by_role("button", name="Save", exact=True).click()
    phone.wait_for_url(re.compile(r"/corals/\d+/$"))
    spot = tank.corals.get().spots.get()
    # The back wall is on top of the plan; the second tap sets left and depth anew. A pixel of
    # the phone's drawing is about 0.2 cm.
    assert (spot.x_cm, spot.y_cm, spot.depth_cm) == pytest.approx((30, 45, 20), abs=0.4)
    assert complaints == []


def test_numbers_a_tap_fills_stay_in_sight_and_the_drawing_stays_put(phone, live_server, tank):
    make_survey(tank)
    phone.goto(live_server.url + reverse("coral_new", args=[tank.pk]))
    tap_share(phone, "above", across=0.25, down=0.25)
    front = phone.locator("[data-spot-view=front]")
    front.evaluate("view => view.scrollIntoView({ block: 'center' })")
    before = front.bounding_box()["y"]
    tap_share(phone, "front", across=0.5, down=0.4)
    expect(phone.locator("#spot-light")).to_contain_text("PAR")
    assert front.bounding_box()["y"] == pytest.approx(before, abs=1)
    expect(phone.locator("[data-place=depth] input")).to_be_in_viewport()
    expect(phone.locator("#spot-light")).to_be_in_viewport()


def test_tap_moves_the_mark_and_typing_too(phone, live_server, tank):
    coral = make_coral(tank, at_cm=(10, 20, 30))
    phone.goto(live_server.url + reverse("spot_new", args=[coral.pk]))
    mark = phone.locator("[data-spot-view=above] [data-here]")
    assert mark.get_attribute("transform") == "translate(10 40)"
    phone.locator("[name=x_cm]").fill("12,5")
    assert mark.get_attribute("transform") == "translate(12.5 40)"


def test_note_takes_three_taps_from_the_list(phone, live_server, tank):
    coral = make_coral(tank)
    phone.goto(live_server.url + reverse("coral_list", args=[tank.pk]))
    phone.get_by_role("link", name=f"Note on {coral.name}").click()
    phone.locator("#id_seen").get_by_text("paling", exact=True).click()
    phone.get_by_role("button", name="Save the note").click()
    # Back in the list, for the next coral of the round.
    phone.wait_for_url(re.compile(r"/tanks/\d+/corals/$"))
    expect(phone.locator(f"#coral-{coral.pk}")).to_contain_text(re.compile("clear paling", re.I))
    assert HealthNote.objects.get().seen == "paling"


def test_a_link_opens_the_group_of_corals_it_names(phone, live_server, tank):
    corals = [make_coral(tank, name=f"Coral {n:02d}") for n in range(OPEN_AT_MOST + 1)]
    make_note(corals[0], seen="paling")
    phone.goto(live_server.url + reverse("coral_list", args=[tank.pk]))
    last = phone.locator(f"#coral-{corals[-1].pk}")
    expect(last).to_be_hidden()
    phone.locator(".coral-counts a").last.click()
    expect(last).to_be_visible()
    phone.goto("about:blank")
    phone.goto(live_server.url + reverse("coral_list", args=[tank.pk]) + f"#coral-{corals[3].pk}")
    expect(phone.locator(f"#coral-{corals[3].pk}")).to_be_visible()


def test_note_can_be_undone(phone, live_server, tank):
    coral = make_coral(tank)
    phone.goto(live_server.url + reverse("coral_detail", args=[coral.pk]))
    phone.get_by_role("link", name="Note", exact=True).click()
    phone.locator("#id_seen").get_by_text("browning", exact=True).click()
    phone.locator(".note-form button[type=submit]").click()
    expect(phone.locator("#notes")).to_have_count(1)
    phone.get_by_role("button", name="Undo").click()
    expect(phone.locator("#notes")).to_have_count(0)


def test_forty_corals_pass_under_a_thumb(phone, live_server, tank):
    make_survey(tank)
    for n in range(40):
        make_note(make_coral(tank, name=f"Frag {n}", genus="Acropora"))
    phone.goto(live_server.url + reverse("coral_list", args=[tank.pk]))
    # At least five rows on the 844 pixels of a phone.
    heights = [row.bounding_box()["height"] for row in phone.locator(".coral").all()]
    assert len(heights) == 40 and max(heights) <= 844 / 5


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_rooms_are_sound(phone, live_server, tank, complaints, size, scheme):
    make_survey(tank)
    change = make_light_change(tank)
    make_water_event(tank)
    coral = make_coral(tank)
    make_coral(tank, name="Loose frag", at_cm=None)
    for seen in HealthNote.Seen:
        note = make_note(coral, seen=seen)
    phone.set_viewport_size(size)
    phone.emulate_media(color_scheme=scheme)
    for name, pk in (
        ("coral_list", tank.pk),
        ("coral_new", tank.pk),
        ("coral_many", tank.pk),
        ("coral_wall", tank.pk),
        ("water_event_list", tank.pk),
        ("water_event_new", tank.pk),
        ("water_event_import", tank.pk),
        ("coral_detail", coral.pk),
        ("coral_edit", coral.pk),
        ("spot_new", coral.pk),
        ("spot_edit", coral.spots.get().pk),
        ("note_edit", note.pk),
        ("light_change_list", tank.pk),
        ("light_change_edit", change.pk),
    ):
        phone.goto(live_server.url + reverse(name, args=[pk]))
        folded = phone.locator("details:not([open]) > summary")
        for _ in range(folded.count()):
            folded.first.press("Enter")
        assert [v["id"] for v in Axe().run(phone).response["violations"]] == [], name
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
    assert complaints == []


def test_chart_draws_light_and_notes(phone, live_server, tank):
    # Measured before the coral came, so that one plain line runs across the chart.
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=300))
    coral = make_coral(tank)
    make_note(coral)
    phone.goto(live_server.url + reverse("coral_detail", args=[coral.pk]))
    line = phone.locator(".timeline__line").first.bounding_box()
    assert line["width"] > PHONE["width"] / 2
    expect(phone.locator(".row--note-paling .mark")).to_have_count(1)


def test_time_axis_is_zoomed_by_keyboard_and_keeps_the_focus(phone, live_server, tank, complaints):
    make_survey(tank)
    coral = make_coral(tank)
    for days in (3, 100, 150):
        make_note(coral, noted_on=tank.today() - dt.timedelta(days=days))
    phone.goto(live_server.url + reverse("coral_detail", args=[coral.pk]))
    marks = phone.locator(".row--note-paling .mark")
    expect(marks).to_have_count(3)
    phone.locator("#stretch-31").focus()
    phone.keyboard.press("Enter")
    expect(marks).to_have_count(1)
    expect(phone.locator("#stretch-31")).to_be_focused()
    phone.reload()
    expect(marks).to_have_count(1)
    phone.get_by_role("link", name="earlier").click()
    expect(marks).to_have_count(0)
    phone.get_by_role("link", name="all", exact=True).click()
    expect(marks).to_have_count(3)
    assert complaints == []


@pytest.mark.parametrize(("name", "count"), [("coral_list", 40), ("coral_wall", CORALS_A_PAGE)])
def test_forty_photos_load_lazily_and_move_nothing(phone, live_server, tank, name, count):
    make_survey(tank)
    picture = clean_photo(sent(encoded()), bytes_max=10**6)
    for i in range(40):
        save_note(
            note=make_note(make_coral(tank, name=f"Coral {i}")), photos=[stored_photo(picture)]
        )
    phone.add_init_script(
        "window.shift = 0; new PerformanceObserver((list) => { for (const e of list.getEntries()) "
        "if (!e.hadRecentInput) window.shift += e.value; })"
        ".observe({ type: 'layout-shift', buffered: true });"
    )
    phone.goto(live_server.url + reverse(name, args=[tank.pk]))
    phone.wait_for_load_state("networkidle")
    for _ in range(6):
        phone.mouse.wheel(0, 1200)
        phone.wait_for_timeout(150)
    images = phone.locator("main img")
    assert images.count() == count
    sized = "imgs => imgs.every((i) => i.getAttribute('width') && i.getAttribute('height'))"
    assert images.evaluate_all(sized)
    assert phone.locator("main img[loading=lazy]").count() >= count - 6
    assert phone.evaluate("window.shift") < 0.01
