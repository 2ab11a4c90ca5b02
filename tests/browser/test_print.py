"""What comes out of the printer: nothing cut, nothing that only a screen can use."""

import datetime as dt
import io

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect
from pypdf import PdfReader

from apps.corals.models import CoralSize
from apps.lighting.change.views import ENTRIES_AT_FIRST
from tests.benchmarks.three_tanks import KEPT_FOR_YEARS, make_measured
from tests.factories import (
    make_acclimation,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_note,
    make_tank,
)

# A4 at 96 dots an inch, less a centimetre at each side.
PAPER = {"width": 718, "height": 1047}


@pytest.fixture
def coral(keeper):
    tank = make_tank(keeper)
    make_lit_survey(tank)
    coral = make_coral(tank, since=tank.today() - dt.timedelta(days=200))
    make_note(coral)
    CoralSize.objects.create(coral=coral, measured_on=tank.today(), diameter_cm=4)
    return coral


@pytest.fixture
def printed(open_page):
    def opened(path):
        page = open_page(path, PAPER)
        page.emulate_media(media="print")
        return page

    return opened


def test_the_report_prints_what_its_events_fold(printed, coral):
    make_note(coral, seen="paling", noted_on=coral.tank.today() - dt.timedelta(days=9))
    page = printed(reverse("outcome_report", args=[coral.tank_id]))
    assert page.locator("#events").get_attribute("open") is None
    cells = page.locator("#each-event :is(th, td)").all()
    assert len(cells) > 6
    for cell in cells:
        expect(cell).to_be_visible()


def test_the_report_of_years_is_a_few_pages(printed, keeper):
    tank = make_measured(keeper, KEPT_FOR_YEARS)
    page = printed(reverse("outcome_report", args=[tank.pk]))
    for dead in page.locator("nav, button, .button, form, .no-print").all():
        expect(dead).to_be_hidden()
    assert len(PdfReader(io.BytesIO(page.pdf(format="A4"))).pages) <= 6


def test_the_light_log_prints_a_line_of_each_change(printed, keeper):
    tank = make_tank(keeper)
    for days in range(ENTRIES_AT_FIRST + 2):
        make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=days))
    page = printed(reverse("light_change_list", args=[tank.pk]))
    titles = page.locator(".log__title")
    expect(titles).to_have_count(ENTRIES_AT_FIRST + 2)
    for title in titles.all():
        expect(title).to_be_visible()
    expect(page.locator(".log__facts").first).to_be_hidden()


@pytest.mark.parametrize("starts_days_ago", [0, 1, 2, 3])
def test_labels_of_the_acclimation_drawing_are_whole(printed, coral, starts_days_ago):
    plan = make_acclimation(coral, starts_days_ago=starts_days_ago)
    page = printed(reverse("acclimation_detail", args=[plan.pk]))
    labels = page.locator(".timeline__axis text")
    assert labels.count() > 1
    for label in labels.all():
        box = label.bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= page.evaluate(
            "document.querySelector('#acclimation-drawing .timeline__plot')"
            ".getBoundingClientRect().right + 12"
        )


def test_a_corals_page_prints_nothing_to_press(printed, coral):
    make_acclimation(coral)
    page = printed(reverse("coral_detail", args=[coral.pk]))
    expect(page.locator("#acclimation-drawing")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    for control in page.locator("button, .button, form, input, select, main nav, #note").all():
        expect(control).to_be_hidden()
    # A link that leads on only is dead on paper; one that names a thing reads as its name.
    actions = page.locator("main a", has_text="Edit").or_(page.locator("main a", has_text="Enter"))
    for action in actions.all():
        expect(action).to_be_hidden()
    expect(page.get_by_text("all", exact=True)).to_be_hidden()
