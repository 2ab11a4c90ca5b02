"""What a club hands about, on a phone and a desk: nothing overflows, and axe finds nothing."""

import itertools

import pytest
from django.urls import reverse

from apps.outcomes.models import PooledCurve, PoolShare
from apps.surveys.models import SurveyOffer
from tests.browser.conftest import DESK, PHONE, sign_in
from tests.browser.test_every_screen import faults_of
from tests.factories import (
    make_club,
    make_fixture,
    make_lit_survey,
    make_offer,
    make_survey,
    make_survey_offer,
    make_tank,
    make_user,
)


def addresses(keeper):
    """Return the pages of a club in which something of each kind is handed about."""
    other = make_user(display_name="Ottilie")
    club = make_club(keeper, other)
    make_offer(club, make_fixture(keeper, name="Long bar"))
    make_offer(club, make_fixture(other, name="Mid-power panel with a rather long name"))
    tank = make_tank(keeper)
    PoolShare.objects.create(tank=tank)
    PooledCurve.objects.create(
        club=club, question="lighter", level="all", n_tanks=8, n_keepers=7, ratio=1.8, low=1.1,
        high=2.9, bins=[[0.93, 1.07, 4, 120, 0.0], [1.07, 1.41, 9, 60, 0.3]],
    )  # fmt: skip
    survey = make_lit_survey(tank)
    given = make_survey_offer(club, make_survey(make_tank(other)), keeper)
    assert SurveyOffer.objects.waiting_for(keeper).exists()
    return [
        reverse("club_detail", args=[club.pk]),
        reverse("club_fixtures", args=[club.pk]),
        reverse("club_outcomes", args=[club.pk]),
        reverse("survey_hand", args=[survey.pk]),
        reverse("club_survey_take", args=[club.pk, given.pk]),
    ]


@pytest.mark.parametrize(
    ("scheme", "size"), list(itertools.product(["light", "dark"], [PHONE, DESK])), ids=str
)
def test_the_pages_of_a_club_are_sound(
    context, live_server, keeper, complaints, page, scheme, size
):
    sign_in(context, live_server.url, keeper)
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    for address in addresses(keeper):
        answer = page.goto(live_server.url + address)
        assert answer.ok, address
        assert faults_of(page) == [] and complaints == [], address
