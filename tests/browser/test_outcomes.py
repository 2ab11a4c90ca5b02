"""The outcomes room in a browser: nothing to complain of, by axe, console and width."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse

from apps.corals.models import Coral, HealthNote
from apps.outcomes.models import Trial
from apps.outcomes.trial.beginning import begin_trial
from apps.tanks.models import Tank
from reeflog.demo import load_demo
from tests.browser.conftest import DESK, PHONE
from tests.browser.page_words import words_shown
from tests.factories import make_note
from tests.outcomes.pool.test_pooling import pool


@pytest.fixture
def signed_in(transactional_db, page, live_server):
    client = Client()
    client.force_login(load_demo())
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    return page


def trial_in(tank):
    trial = Trial(tank=tank, question="less", step="down", factor=0.8, began_on=tank.today())
    return begin_trial(trial=trial, corals=tank.corals.all()[:2])


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_list_and_event_are_sound(signed_in, live_server, complaints, size, scheme):
    page, tank = signed_in, Tank.objects.get(name="Harbour cube")
    pool(12)
    note = HealthNote.objects.get(coral__tank=tank, seen="paling", strength=2)
    unwell = make_note(tank.corals.get(name="Violet plate"), seen="browning")
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    for url in (
        reverse("outcome_list", args=[tank.pk]),
        reverse("coral_case", args=[unwell.coral_id]),
        reverse("coral_gallery", args=[tank.pk]),
        reverse("outcome_detail", args=[tank.pk, note.pk]),
        reverse("outcome_weighing", args=[tank.pk]),
        reverse("outcome_report", args=[tank.pk]),
        reverse("pool_detail", args=[tank.pk]),
        reverse("trial_new", args=[tank.pk]),
        reverse("trial_detail", args=[trial_in(tank).pk]),
    ):
        page.goto(live_server.url + url)
        folded = page.locator("details:not([open]) > summary")
        for _ in range(folded.count()):
            folded.first.press("Enter")
        assert Axe().run(page).response["violations"] == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert complaints == []


def test_case_of_every_coral_of_the_demo_is_short(signed_in, live_server):
    page, unwell = signed_in, 0
    page.set_viewport_size(PHONE)
    for coral in Coral.objects.all():
        page.goto(live_server.url + reverse("coral_case", args=[coral.pk]))
        page.wait_for_load_state("networkidle")
        unwell += page.locator("#case-proof[data-state]").count()
        assert words_shown(page) <= 150, coral.name
    assert unwell == 2


def test_every_coral_has_its_mark(signed_in, live_server):
    page, tank = signed_in, Tank.objects.get(name="Harbour cube")
    page.goto(live_server.url + reverse("outcome_list", args=[tank.pk]))
    # The statistics fold below the cases.
    page.locator("#statistics > summary").click()
    page.locator("#statistics details:has(.strip) > summary").click()
    assert page.locator(".strip li circle.strip__with").count() == 1
    assert page.locator(".strip li circle.strip__without").count() == 4
    marks = page.locator(".strip li .strip__with, .strip li circle.strip__without")
    boxes = [mark.bounding_box() for mark in marks.all()]
    # Drawn in the order of light: no mark lies right of the one above it.
    middles = [box["x"] + box["width"] / 2 for box in boxes]
    assert middles == sorted(middles, reverse=True)
