"""Levels of steps are whole percents that never pass the wanted light, and lamps' reach."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import HungFixture
from apps.planning.acclimation.levels import step_level
from apps.planning.acclimation.step_settings import most_by_level
from apps.planning.models import Acclimation
from tests.factories import make_coral, make_lit_survey


@pytest.mark.parametrize(
    ("start", "target", "base", "setting", "level"),
    [
        (100, 200, 72.0, 115.0, 82.0),  # 82.8 wanted
        (100, 200, 72.0, 125.0, 90.0),  # just whole
        (200, 100, 72.0, 87.0, 63.0),  # 62.64 wanted, and it goes down
        (100, 200, 66.5, 100.0, 66.5),  # as it hung
        (100, 200, 80.0, 130.0, 100.0),  # no more than full
        (100, 200, 80.0, 0.5, 1.0),  # a lamp that shines goes on shining
    ],
)
def test_a_level_is_whole_and_never_past_the_wanted_one(start, target, base, setting, level):
    plan = Acclimation(start_umol=start, target_umol=target)
    assert step_level(plan, base, setting) == pytest.approx(level)


def test_lamps_reach_what_the_brightest_gives_at_full():
    rows = [HungFixture(level_percent=80.0), HungFixture(level_percent=40.0)]
    assert most_by_level(100.0, rows) == pytest.approx(125.0)
    assert most_by_level(100.0, []) == float("inf")


@pytest.fixture
def dim(tank):
    """A coral under a lamp at full level that gives it far less than its kind wants."""
    make_lit_survey(tank, ppf_umol_s=20, taken_at=timezone.now() - dt.timedelta(days=20))
    return make_coral(tank, at_cm=(30, 30, 35))


def test_a_target_is_filled_in_as_far_as_the_lamps_reach(as_user, owner, dim):
    page = as_user(owner).get(reverse("acclimation_new", args=[dim.pk]))
    filled = float(page.context["form"]["target_umol"].value())
    assert filled == page.context["most_umol"] < page.context["band"].low_umol
    assert filled <= page.context["now_umol"] and 'id="most-light"' in page.content.decode()


def test_steps_to_a_target_as_filled_in_can_be_made(as_user, owner, dim):
    client, address = as_user(owner), reverse("acclimation_new", args=[dim.pk])
    form = client.get(address).context["form"]
    typed = {name: form[name].value() for name in form.fields if name not in ("waits", "text")}
    assert client.post(address, typed | {"look": "1", "text": ""}).status_code == 200


@pytest.mark.parametrize(("wish", "filled"), [("", "1"), ("?factor=0.8", "0.8")])
def test_a_whole_tank_starts_from_what_the_lamps_reach(as_user, owner, dim, wish, filled):
    page = as_user(owner).get(reverse("acclimation_tank_new", args=[dim.tank_id]) + wish)
    assert page.context["form"]["factor"].value() == filled
    assert ('id="most-light"' in page.content.decode()) == (wish == "")


def test_a_target_within_reach_is_the_middle_of_the_band(as_user, owner, tank):
    make_lit_survey(tank, ppf_umol_s=400, taken_at=timezone.now() - dt.timedelta(days=20))
    coral = make_coral(tank, at_cm=(30, 30, 15))
    page = as_user(owner).get(reverse("acclimation_new", args=[coral.pk]))
    band = page.context["band"]
    assert (
        float(page.context["form"]["target_umol"].value()) == (band.low_umol + band.high_umol) / 2
    )
    assert 'id="most-light"' not in page.content.decode()
