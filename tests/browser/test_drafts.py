"""What is typed stays until the server has it, and not a moment longer."""

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from apps.common.idempotency import SENT_TWICE
from apps.corals.notes.noting import save_note
from apps.tanks.models import Tank
from tests.factories import make_coral, make_fixture, make_meter, make_note, make_survey, make_tank
from tests.planning.questions import make_layout_plan

PUT_BACK = "Your unsaved text is back here"


@pytest.fixture
def tank(keeper):
    return make_tank(keeper)


def drafts(page):
    # What the page does with drafts as it arrives is done once it has loaded, not once it is seen.
    page.wait_for_load_state()
    return page.evaluate("Object.keys(localStorage).filter((k) => k.startsWith('reeflog-draft'))")


def save(page, button="Save"):
    page.get_by_role("main").get_by_role("button", name=button).click()


@pytest.mark.parametrize(
    "path, label, words, button, then",
    [
        ("/tanks/{tank}/surveys/new/", "Notes", "Windows covered", "Next", "**/plan/"),
        ("/meters/new/", "What you call it", "Borrowed one", "Save", "**/meters/"),
        ("/tanks/{tank}/edit/", "Name", "Lagoon", "Save", "**/tanks/{tank}/settings/"),
    ],
)
def test_saved_form_leaves_no_draft(open_page, tank, path, label, words, button, then):
    page = open_page(path.format(tank=tank.pk))
    for folded in page.locator("details.unusual > summary").all():
        folded.click()
    page.get_by_label(label).fill(words)
    assert len(drafts(page)) == 1
    save(page, button)
    page.wait_for_url(then.format(tank=tank.pk))
    assert drafts(page) == []


def test_next_share_link_starts_without_what_the_last_one_showed(open_page, tank, live_server):
    page = open_page(f"/tanks/{tank.pk}/sharing/")
    page.get_by_label("health notes").check()
    page.get_by_text("More: comments").click()
    page.locator("#id_may_comment").check()
    with page.expect_navigation():
        save(page, "Make the link")
    expect(page.get_by_role("heading", name="Your new link")).to_be_visible()
    assert drafts(page) == []
    page.goto(f"{live_server.url}/tanks/{tank.pk}/sharing/")
    expect(page.get_by_label("health notes")).not_to_be_checked()
    expect(page.get_by_text(PUT_BACK)).to_have_count(0)


def layout_with_another_zone(open_page, path="/plans/layouts/new/"):
    page = open_page(path)
    rows = page.locator(".layout-row--zone")
    with page.expect_navigation():
        page.get_by_role("button", name="Add a zone").click()
    page.get_by_label("Name", exact=True).last.fill("A ledge")
    count = rows.count()
    page.close()
    return count


def test_rows_typed_before_are_offered_and_not_mixed_with_fresh_ones(open_page):
    count = layout_with_another_zone(open_page)
    page = open_page("/plans/layouts/new/")
    rows = page.locator(".layout-row--zone")
    offer = page.locator("[data-kept-notice]")
    expect(rows).to_have_count(count - 1)
    offer.get_by_role("button", name="Put it back").click()
    expect(rows).to_have_count(count)
    expect(page.get_by_label("Name", exact=True).last).to_have_value("A ledge")
    expect(offer).to_have_count(0)


def test_an_offer_thrown_away_leaves_the_fresh_form(open_page):
    count = layout_with_another_zone(open_page)
    page = open_page("/plans/layouts/new/")
    page.locator("[data-kept-notice]").get_by_role("button", name="Throw it away").click()
    expect(page.locator("[data-kept-notice]")).to_have_count(0)
    expect(page.locator(".layout-row--zone")).to_have_count(count - 1)
    assert drafts(page) == []


def test_a_form_that_starts_like_a_plan_has_a_draft_of_its_own(open_page, keeper):
    plan = make_layout_plan(keeper)
    layout_with_another_zone(open_page, f"/plans/layouts/new/?like={plan.pk}")
    page = open_page("/plans/layouts/new/")
    expect(page.get_by_role("button", name="Search")).to_be_visible()
    expect(page.locator("[data-kept-notice]")).to_have_count(0)


def test_lamps_typed_into_rows_that_were_added_come_back(open_page, keeper, tank):
    make_fixture(keeper)
    page = open_page(f"/tanks/{tank.pk}/light/new/")
    page.locator(".rig-row__fixture select").first.select_option(index=1)
    with page.expect_navigation():
        page.get_by_role("button", name="More rows").click()
    count = page.locator(".rig-row").count()
    page.get_by_label("In your words").fill("All anew")
    page.close()
    page = open_page(f"/tanks/{tank.pk}/light/new/")
    lamps = page.locator(".rig-row")
    assert 0 < lamps.count() < count
    page.get_by_role("button", name="Put it back").click()
    expect(page.get_by_label("In your words")).to_have_value("All anew")
    expect(lamps.nth(count - 1)).to_be_attached()


def test_imported_table_leaves_no_draft(open_page, tank):
    survey = make_survey(tank, readings=[])
    page = open_page(f"/surveys/{survey.pk}/import/")
    page.get_by_label("Paste the table here").fill("x,y,depth,par\n10,8,5,180")
    page.get_by_role("button", name="Check the table").click()
    page.get_by_role("button", name="Import 1 reading").click()
    page.wait_for_url(f"**/surveys/{survey.pk}/")
    assert drafts(page) == []


def test_form_that_never_arrived_is_put_back(open_page, tank, live_server):
    page = open_page(f"/tanks/{tank.pk}/edit/")
    page.get_by_label("Name").fill("Lagoon")
    page.route("**/edit/", lambda route: route.abort())
    save(page)
    page.unroute("**/edit/")
    page.goto(f"{live_server.url}/tanks/")
    page.goto(f"{live_server.url}/tanks/{tank.pk}/edit/")
    expect(page.get_by_text(PUT_BACK)).to_be_visible()
    expect(page.get_by_label("Name")).to_have_value("Lagoon")


def test_refused_form_is_put_back_when_it_may_be_sent_again(open_page, tank, live_server):
    page = open_page(f"/tanks/{tank.pk}/edit/")
    page.get_by_label("Name").fill("Lagoon")
    tank.remove()
    save(page)
    expect(page.get_by_role("heading", name="Page not found")).to_be_visible()
    tank.restore()
    page.goto(f"{live_server.url}/tanks/{tank.pk}/edit/")
    expect(page.get_by_label("Name")).to_have_value("Lagoon")
    save(page)
    page.wait_for_url(f"**/tanks/{tank.pk}/settings/")
    assert Tank.objects.get(pk=tank.pk).name == "Lagoon" and drafts(page) == []


def test_box_that_was_unticked_stays_unticked(open_page, keeper):
    meter = make_meter(keeper, corrects_for_water=True)
    words = "already in them"
    page = open_page(f"/meters/{meter.pk}/edit/")
    page.get_by_label(words).uncheck()
    page.close()
    page = open_page(f"/meters/{meter.pk}/edit/")
    expect(page.get_by_text(PUT_BACK)).to_be_visible()
    expect(page.get_by_label(words)).not_to_be_checked()


def test_readings_stay_when_the_sign_in_ran_out(open_page, tank):
    survey = make_survey(tank)
    page = open_page(f"/surveys/{survey.pk}/readings/")
    cell = page.locator("#reading-rows input[name=par]").last
    cell.fill("77")
    Session.objects.all().delete()
    page.get_by_role("button", name="Save readings").click()
    expect(page.get_by_role("link", name="Sign in in a new tab")).to_be_in_viewport()
    assert len(drafts(page)) == 1


def shrimps(open_page, tank):
    """Open the form of the water log and fill it in."""
    page = open_page(f"/tanks/{tank.pk}/water/new/")
    page.get_by_label("new animals").check()
    page.get_by_label("In your words").fill("Two shrimps")
    return page


def test_form_whose_answer_got_lost_is_put_back_and_entered_once(open_page, tank):
    page = shrimps(open_page, tank)
    # The server takes it, and nothing of that comes back.
    page.route("**/water/new/", lambda route: (route.fetch(max_redirects=0), route.abort()))
    save(page)
    page.context.clear_cookies(name="reeflog_taken_drafts")
    assert tank.water_events.count() == 1
    page = open_page(f"/tanks/{tank.pk}/water/new/")
    expect(page.get_by_text(PUT_BACK)).to_be_visible()
    save(page)
    expect(page.get_by_text(SENT_TWICE)).to_be_visible()
    assert tank.water_events.count() == 1 and drafts(page) == []


def test_double_tap_makes_one(open_page, tank):
    page = shrimps(open_page, tank)
    page.get_by_role("main").get_by_role("button", name="Save").dblclick()
    page.wait_for_url(f"**/tanks/{tank.pk}/water/")
    assert tank.water_events.count() == 1


def test_note_put_back_over_one_changed_elsewhere_loses_neither(open_page, tank):
    note = make_note(make_coral(tank), text="first")
    page = open_page(f"/notes/{note.pk}/edit/")
    page.get_by_label("In your words").fill("typed and left")
    page.close()
    note.text = "saved elsewhere"
    save_note(note=note)
    page = open_page(f"/notes/{note.pk}/edit/")
    expect(page.get_by_label("In your words")).to_have_value("typed and left")
    page.get_by_role("button", name="Save the note").click()
    expect(page.get_by_text("changed elsewhere meanwhile")).to_be_visible()
    note.refresh_from_db()
    assert (note.text, note.others.get().said["text"]) == ("typed and left", "saved elsewhere")
