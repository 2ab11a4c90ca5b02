"""A notes round on a phone: few taps, no network, each note saved once."""

import datetime as dt
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from apps.corals.condition import Change
from apps.corals.models import HealthNote, Photo
from apps.corals.notes.noting import save_note
from tests.browser.beside_tank import SMALL_PHONE, eventually, wait_for_worker
from tests.browser.conftest import sign_in
from tests.corals.pictures import encoded
from tests.factories import make_coral, make_note, make_tank, make_user


@pytest.fixture
def tank(transactional_db):
    return make_tank(make_user(email="keeper@example.org"))


def open_round(context, wire, tank):
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(f"{wire.url}/tanks/{tank.pk}/round/")
    expect(page.locator("#round-desk")).to_be_visible()
    return page


def tap_condition(page, word):
    page.locator(".round-conditions label", has_text=re.compile(f"^{word}$")).click()


def note_one(page, word, seen=None):
    tap_condition(page, word)
    if seen:
        page.locator(f"[data-seen={seen}]").click()
    page.locator("#round-form [type=submit]").click()


def kept_here(page, count):
    expect(page.locator("#round-here")).to_have_text(str(count), timeout=40_000)


def seen_in_order():
    return [(n.condition, n.seen) for n in HealthNote.objects.order_by("coral__name")]


def test_forty_corals_without_a_network_sync_once(phone, wire, tank):
    for i in range(40):
        make_coral(tank, name=f"Coral {i:02}", at_cm=(1 + i, 30, 25))
    context = phone(size=SMALL_PHONE)
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    wait_for_worker(page)
    wire.cut()
    for i in range(20):
        expect(page.locator("#round-name")).to_have_text(f"Coral {i:02}")
        note_one(page, "good")
    kept_here(page, 20)
    context.close()  # The phone dies half way ...

    context = phone(size=SMALL_PHONE)
    page = open_round(context, wire, tank)  # ... and opens the page again, still without a network.
    kept_here(page, 20)
    for i in range(20, 40):
        expect(page.locator("#round-name")).to_have_text(f"Coral {i:02}")
        note_one(page, "poor", "paling")
    expect(page.locator("#round-over")).to_be_visible()
    kept_here(page, 40)
    assert not HealthNote.objects.exists()
    wire.mend()
    # As a phone tells its pages; without a word the next try is up to half a minute off.
    page.evaluate("dispatchEvent(new Event('online'))")
    kept_here(page, 0)
    assert seen_in_order() == [(5, "well")] * 20 + [(3, "paling")] * 20
    page.reload()
    expect(page.locator("#round-done")).to_have_text("40 of 40")
    assert HealthNote.objects.count() == 40


def test_replies_lost_after_the_write_double_nothing(phone, wire, tank):
    for i in range(3):
        make_coral(tank, name=f"Coral {i}", at_cm=(1 + i, 30, 25))
    context = phone()
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    page.locator("#round-file").set_input_files(
        {"name": "coral.png", "mimeType": "image/png", "buffer": encoded()}
    )
    wire.lose_replies = 3
    for i in range(3):
        expect(page.locator("#round-name")).to_have_text(f"Coral {i}")
        note_one(page, "good")
    expect(page.locator("#round-done")).to_have_text("3 of 3")
    kept_here(page, 0)
    assert wire.lost == 3
    assert HealthNote.objects.count() == 3 and Photo.objects.count() == 1


def test_a_double_tap_keeps_one_note_and_skips_nobody(phone, wire, tank):
    for i in range(3):
        make_coral(tank, name=f"Coral {i}", at_cm=(1 + i, 30, 25))
    context = phone()
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    tap_condition(page, "good")
    page.get_by_role("button", name="Keep, next coral").dblclick()
    expect(page.locator("#round-name")).to_have_text("Coral 1")
    expect(page.locator("#round-done")).to_have_text("1 of 3")
    kept_here(page, 0)
    assert HealthNote.objects.count() == 1


def test_going_back_changes_the_same_note(phone, wire, tank):
    for i in range(2):
        make_coral(tank, name=f"Coral {i}", at_cm=(1 + i, 30, 25))
    context = phone()
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    note_one(page, "good")
    eventually(HealthNote.objects.count, 1)
    page.locator("[data-do=back]").click()
    expect(page.locator("input[name=condition]:checked")).to_have_value("5")
    note_one(page, "bad", "tissue_loss")
    eventually(seen_in_order, [(2, "tissue_loss")])


def test_another_device_counts_what_was_noted_today(phone, wire, tank):
    corals = [make_coral(tank, name=f"Coral {i}", at_cm=(1 + i, 30, 25)) for i in range(3)]
    for coral in corals[:2]:
        make_note(coral, condition=5, seen="well", noted_on=tank.today())
    make_note(corals[2], condition=5, seen="well", noted_on=corals[2].added_on)
    context = phone("another")
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    expect(page.locator("#round-done")).to_have_text("2 of 3")
    expect(page.locator("#round-name")).to_have_text("Coral 2")
    note_one(page, "good")
    expect(page.locator("#round-done")).to_have_text("3 of 3")


def test_the_end_of_the_round_offers_nothing_to_keep_until_a_change(phone, wire, tank):
    for i in range(2):
        make_coral(tank, name=f"Coral {i}", at_cm=(1 + i, 30, 25))
    context = phone()
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    keep = page.locator("#round-form [type=submit]")
    expect(keep).to_have_text("Keep, next coral")
    note_one(page, "good")
    expect(keep).to_have_text("Keep")
    expect(page.locator("#round-over")).to_be_hidden()
    note_one(page, "good")
    expect(page.locator("#round-over")).to_be_visible()
    expect(keep).to_be_hidden()
    tap_condition(page, "poor")
    page.locator("[data-seen=paling]").click()
    expect(keep).to_have_text("Keep the change")
    keep.click()
    eventually(seen_in_order, [(5, "well"), (3, "paling")])
    expect(keep).to_be_hidden()


def test_what_a_page_changed_while_a_reply_was_lost_stands_and_is_told(phone, wire, tank):
    make_coral(tank)
    context = phone(size=SMALL_PHONE)
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    # A browser may send once more by itself, so every reply is lost.
    wire.lose_replies = 99
    note_one(page, "poor", "paling")
    eventually(HealthNote.objects.count, 1)
    wire.cut()
    wire.lose_replies = 0
    note = HealthNote.objects.get()
    note.text = "It fell over"
    save_note(note=note)
    wire.mend()
    kept_here(page, 0)
    told = page.locator("#round-told li")
    expect(told).to_contain_text("Green branching")
    expect(told).to_contain_text("“poor, clear paling”")
    expect(page.locator("#round-text")).to_have_value("It fell over")
    wire.cut()
    tap_condition(page, "bad")
    note.text = "and is up again"
    save_note(note=note)
    page.locator("#round-form [type=submit]").click()
    kept_here(page, 1)
    expect(page.locator("#round-told")).to_be_hidden()
    wire.mend()
    kept_here(page, 0)
    expect(told).to_contain_text("kept beside it")
    assert HealthNote.objects.get().text == "and is up again"
    assert note.others.get().said["condition"] == 2
    assert Axe().run(page).response["violations"] == []
    page.get_by_role("button", name="Understood").click()
    expect(page.locator("#round-told")).to_be_hidden()


def test_a_note_takes_four_taps_at_most_on_a_small_phone(phone, wire, tank, capsys):
    for i in range(3):
        coral = make_coral(tank, name=f"Coral {i}", at_cm=(1 + i, 30, 25))
        make_note(coral, condition=5, seen="well", noted_on=coral.added_on)
    context = phone(size=SMALL_PHONE)
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    page.evaluate(
        # A tap on a label also clicks its input; only what the finger did counts.
        "document.addEventListener('click', (e) => { if (e.isTrusted && e.detail) "
        "window.taps = (window.taps ?? 0) + 1; })"
    )
    lowest = page.get_by_role("button", name="Keep, next coral").bounding_box()
    taps = []
    plan = (("good", None), ("poor", "paling"), ("thriving", "growth"))
    for i, (word, seen) in enumerate(plan):
        expect(page.locator("#round-name")).to_have_text(f"Coral {i}")
        before = page.evaluate("window.taps ?? 0")
        note_one(page, word, seen)
        taps.append(page.evaluate("window.taps") - before)
    eventually(lambda: HealthNote.objects.filter(client_id__isnull=False).count(), 3)
    with capsys.disabled():
        print(f"\ntaps a note at 360 px: well {taps[0]}, with a sign {taps[1]}, {taps[2]}")
    assert max(taps) <= 4
    assert page.evaluate("window.scrollY") == 0 and lowest["y"] + lowest["height"] <= 640


def test_several_signs_of_one_note_wait_without_a_network(phone, wire, tank):
    make_coral(tank)
    context = phone(size=SMALL_PHONE)
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    wait_for_worker(page)
    wire.cut()
    for sign in ("tissue_loss", "growth", "polyps_in", "growth"):
        page.locator(f"[data-seen={sign}]").click()
    note_one(page, "bad")
    kept_here(page, 1)
    page.reload()
    page.locator("#round-list button").or_(page.locator("#round-name")).first.wait_for()
    pressed = page.locator("[data-seen][aria-pressed=true]")
    expect(pressed).to_have_count(2)
    wire.mend()
    kept_here(page, 0)
    assert HealthNote.objects.get().signs == ("tissue_loss", "polyps_in")


def test_what_a_change_is_worth_is_said_while_tapping(phone, wire, tank):
    coral = make_coral(tank)
    make_note(coral, condition=5, seen="well", noted_on=coral.added_on)
    context = phone()
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    tap_condition(page, "poor")
    expect(page.locator("#round-change")).to_have_text(Change(-2).words)
    page.locator("#round-form [type=submit]").click()
    expect(page.locator("#round-said")).not_to_be_empty()
    kept_here(page, 0)
    assert HealthNote.objects.count() == 1


@pytest.mark.parametrize("width", [360, 390])
def test_the_round_fits_a_thumb_and_axe_is_content(phone, wire, tank, width):
    make_coral(tank)
    context = phone(size={"width": width, "height": 640})
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    buttons = page.locator(".round-conditions label, .round-seen button, .round-go button").all()
    boxes = [b.bounding_box() for b in buttons]
    assert len(boxes) == 6 + 8 + 3
    assert all(b["width"] >= 44 and b["height"] >= 44 for b in boxes)
    for summary in page.locator("summary").all():
        summary.click()
    assert [f["id"] for f in Axe().run(page).response["violations"]] == []


def test_round_of_another_day_by_other_eyes_with_two_photos(phone, wire, tank):
    make_coral(tank, name="Cream staghorn")
    context = phone(size=SMALL_PHONE)
    sign_in(context, wire.url, tank.owner)
    page = open_round(context, wire, tank)
    day = (tank.today() - dt.timedelta(days=9)).isoformat()
    page.locator("#round-when > summary").click()
    page.get_by_label("Day").fill(day)
    page.get_by_label("Seen by").fill("Ida")
    page.get_by_label("Find a sign by what you call it").fill("stn")
    page.keyboard.press("Tab")
    expect(page.locator("[data-seen=tissue_loss]")).to_have_attribute("aria-pressed", "true")
    tap_condition(page, "bad")
    files = [{"name": f"{k}.jpg", "mimeType": "image/jpeg", "buffer": encoded()} for k in (1, 2)]
    page.locator("#round-file").set_input_files(files)
    page.locator("#round-form [type=submit]").click()
    eventually(Photo.objects.count, 2)
    note = HealthNote.objects.get()
    assert (note.noted_on.isoformat(), note.noted_by, note.seen) == (day, "Ida", "tissue_loss")
    kept_here(page, 0)
    page.reload()
    expect(page.locator("#round-done")).to_have_text("1 of 1")
    expect(page.locator("#round-day")).to_have_value(day)
