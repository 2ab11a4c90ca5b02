"""Every page that shows a tank's light says so where nobody measured it."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.address import typed_of
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.events import corals_with_notes
from apps.outcomes.exposure.exposure import LightBook
from apps.planning.models import Plan
from apps.planning.what_if.live_light import live_light
from apps.sharing.models import ShareLink
from tests.factories import (
    hang,
    make_acclimation,
    make_coral,
    make_fixture,
    make_light_change,
    make_note,
    make_plan,
    make_survey,
)

SAYS = re.compile("not measured", re.IGNORECASE)


@pytest.fixture
def lit(tank):
    """A tank whose panel states its output and which nobody surveyed, with a coral."""
    hang(
        make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=10), factor=1),
        make_fixture(tank.owner, ppf_umol_s=120),
    )
    make_note(make_coral(tank))
    return tank


def make_what_if(tank):
    """Keep a plan that dims what hangs."""
    rows = [typed_of(row) | {"level_percent": 50} for row in live_light(tank, timezone.now()).rows]
    asked = {"version": 1, "depth_cm": 20.0, "rows": rows}
    return make_plan(tank.owner, tank, kind=Plan.Kind.WHAT_IF, name="Dimmer", asked=asked)


def make_next_change(tank):
    """Hang the same panel anew five days ago: there is a light before it to compare with."""
    change = make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=5), factor=1)
    hang(change, tank.owner.fixtures.get())
    return change


PAGES = {
    "tank": lambda tank: reverse("tank_detail", args=[tank.pk]),
    "map": lambda tank: reverse("light_map", args=[tank.pk]),
    "corals": lambda tank: reverse("coral_list", args=[tank.pk]),
    "coral": lambda tank: reverse("coral_detail", args=[tank.corals.get().pk]),
    "wall": lambda tank: reverse("coral_wall", args=[tank.pk]),
    "spot": lambda tank: reverse("spot_light", args=[tank.pk]) + "?x_cm=30&y_cm=30&depth_cm=20",
    "what if": lambda tank: reverse("what_if", args=[tank.pk]),
    "saved what if": lambda tank: reverse("what_if_detail", args=[make_what_if(tank).pk]),
    "placing": lambda tank: reverse("place_coral", args=[tank.pk]),
    "acclimation": lambda tank: reverse(
        "acclimation_detail", args=[make_acclimation(tank.corals.get()).pk]
    ),
    "new acclimation": lambda tank: reverse("acclimation_new", args=[tank.corals.get().pk]),
    "change": lambda tank: reverse("light_change_effect", args=[make_next_change(tank).pk]),
}


@pytest.mark.parametrize("name", PAGES)
def test_a_page_says_its_light_is_not_measured(as_user, owner, lit, name):
    page = as_user(owner).get(PAGES[name](lit))
    assert page.status_code == 200 and SAYS.search(page.content.decode())


@pytest.mark.parametrize("name", PAGES)
def test_it_says_so_no_more_once_somebody_read_it(as_user, owner, lit, name):
    make_survey(lit)
    page = as_user(owner).get(PAGES[name](lit))
    body = " ".join(page.content.decode().split())
    # What a mark means, and the words that a script has for a point.
    for words in (
        "worked back, extrapolated or not measured",
        "by the output of your lights, not measured here",
    ):
        body = body.replace(words, "")
    assert page.status_code == 200 and not SAYS.search(body)


@pytest.mark.parametrize("name", ["map", "coral", "what if", "placing"])
def test_a_viewer_is_told_too_and_a_stranger_finds_nothing(as_user, viewer, stranger, lit, name):
    page = as_user(viewer).get(PAGES[name](lit))
    assert page.status_code == 200 and SAYS.search(page.content.decode())
    assert as_user(stranger).get(PAGES[name](lit)).status_code == 404


def test_a_shared_map_says_so_without_naming_fixtures(client, lit):
    link = ShareLink(tank=lit, expires_at=timezone.now() + dt.timedelta(days=7))
    token = link.renew_token()
    link.save()
    body = client.get(reverse("shared_map", args=[token])).content.decode()
    assert 'id="not-measured"' in body and "Panel" not in body


def test_outcomes_take_no_light_that_nobody_measured(lit):
    book = LightBook(lit, corals_with_notes(lit), tank_light(lit))
    assert not book.has_map and book.of_spots(0) is None
