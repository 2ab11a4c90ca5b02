"""One coral's note where the network is gone: kept with its photos, sent once, never lost."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from apps.corals.models import HealthNote, Photo
from tests.browser.beside_tank import eventually, wait_for_worker
from tests.browser.conftest import sign_in
from tests.corals.pictures import encoded
from tests.factories import make_coral, make_tank, make_user

FILES = [{"name": f"{k}.png", "mimeType": "image/png", "buffer": encoded()} for k in (1, 2)]


@pytest.fixture
def coral(transactional_db):
    return make_coral(make_tank(make_user(email="keeper@example.org")), name="Cream staghorn")


def open_note(phone, wire, coral):
    context = phone()
    sign_in(context, wire.url, coral.tank.owner)
    page = context.new_page()
    page.goto(f"{wire.url}/corals/{coral.pk}/notes/new/")
    return page


def write(page):
    page.locator("#id_seen input[value=paling]").check()
    page.locator("#id_strength input[value='3']").check()
    page.locator("#id_text").fill("Tips went pale over the weekend.")
    page.locator("#id_photo").set_input_files(FILES)


def save(page):
    page.locator("#note-form [type=submit]").click()


def test_note_with_photos_waits_without_a_network_and_is_sent_once(phone, wire, coral):
    page = open_note(phone, wire, coral)
    wire.cut()
    write(page)
    save(page)
    box = page.locator("#note-kept")
    expect(box).to_be_visible(timeout=15_000)
    assert not HealthNote.objects.exists()
    assert [v["id"] for v in Axe().run(page).response["violations"]] == []
    wire.mend()
    # The server stores it, and the first answers get lost on the way.
    wire.lose_replies = 2
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(box.locator("a[data-kept=sent]")).to_be_visible(timeout=60_000)
    note = HealthNote.objects.get()
    assert (note.seen, note.strength, note.text) == (
        "paling", HealthNote.Strength.STRONG, "Tips went pale over the weekend.",
    )  # fmt: skip
    assert (note.coral, note.photos.count(), Photo.objects.count()) == (coral, 2, 2)


def test_note_kept_here_is_sent_from_another_page_after_the_tab_was_closed(phone, wire, coral):
    page = open_note(phone, wire, coral)
    wire.cut()
    write(page)
    save(page)
    expect(page.locator("#note-kept")).to_be_visible(timeout=15_000)
    context = page.context
    page.close()
    wire.mend()
    page = context.new_page()
    page.goto(f"{wire.url}/corals/round/")
    eventually(Photo.objects.count, 2)
    assert HealthNote.objects.count() == 1
    page.wait_for_load_state("networkidle")  # having sent it, the round reads itself anew
    # Nothing of it is put back into the next note.
    page.goto(f"{wire.url}/corals/{coral.pk}/notes/new/")
    expect(page.locator("#id_text")).to_have_value("")


def test_page_of_a_note_opens_without_a_network_as_the_round_at_its_coral(phone, wire, coral):
    make_coral(coral.tank, name="Another", at_cm=(1, 30, 25))
    page = open_note(phone, wire, coral)
    page.goto(f"{wire.url}/tanks/{coral.tank_id}/round/")
    wait_for_worker(page)
    wire.cut()
    page.goto(f"{wire.url}/corals/{coral.pk}/notes/new/")
    expect(page.locator("#round-name")).to_have_text(coral.name, timeout=15_000)


def test_note_with_a_network_goes_the_usual_way(phone, wire, coral):
    page = open_note(phone, wire, coral)
    write(page)
    save(page)
    page.wait_for_url(f"**/corals/{coral.pk}/")
    assert (HealthNote.objects.get().client_id, Photo.objects.count()) == (None, 2)


def test_note_that_says_nothing_is_not_kept(phone, wire, coral):
    page = open_note(phone, wire, coral)
    wire.cut()
    save(page)
    expect(page.locator("#note-said")).to_be_visible(timeout=15_000)
    expect(page.locator("#note-kept")).to_be_hidden()
