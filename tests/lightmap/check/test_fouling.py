"""What salt takes of the light, estimated from surveys before and after cleanings."""

import datetime as dt
import math

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import HungFixture
from apps.lightmap.check.fouling import fouling_of
from apps.lightmap.check.scoring import running_score
from apps.lightmap.check.words import fouling_verdict, fouling_words
from apps.lightmap.lightmap import tank_light
from reeflog.demo_light import true_par
from tests.factories import grid_readings, hang, make_light_change, make_survey

NOW = timezone.now()
RATE = 0.002  # of the light a day, 5.8 % in 30 days


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def salted(tank, days, fouled_days, **overrides):
    """Survey the light so many days ago under so many days of salt."""
    fixture = HungFixture.objects.get().scene()
    places = [row[:3] for row in grid_readings(tank)]
    par = true_par(places, tank=tank.scene(), fixtures=[fixture], ppf_umol_s=120.0)
    left = math.exp(-RATE * fouled_days)
    rows = [(*place, round(float(v) * left, 1)) for place, v in zip(places, par, strict=True)]
    return make_survey(tank, taken_at=days_ago(days), readings=rows, **overrides)


def cleaned(tank, days, factor=1):
    return make_light_change(tank, happened_at=days_ago(days), factor=factor, reason="cleaned",
                             summary="Wiped the panel")  # fmt: skip


def salt(tank):
    light = tank_light(tank)
    return fouling_of(light, running_score(light).scores, NOW)


@pytest.fixture
def clean(tank):
    """Hung and surveyed 100 days ago, without any salt."""
    hang(make_light_change(tank, happened_at=days_ago(120), factor=1, reason="hung"))
    return salted(tank, 100, 0)


def test_loss_between_two_surveys_is_found(tank, clean):
    salted(tank, 10, 90)
    fouling = salt(tank)
    assert fouling.rate.rate == pytest.approx(RATE, rel=0.15)
    assert fouling.rate.low < RATE < fouling.rate.high and fouling.rate.shows_loss
    assert fouling.days_now is None and fouling.wiped is None
    assert "<strong>6\u00a0% in 30 days" in fouling_verdict(fouling)


def test_a_cleaning_in_between_is_told_by_what_came_back(tank, clean):
    """90 days of salt at the second survey, 5 at the third: the light came back by 85 days."""
    cleaned(tank, 99.9)
    salted(tank, 10, 90)
    cleaned(tank, 7)
    salted(tank, 2, 5)
    fouling = salt(tank)
    # Before the very first cleaning nobody knows how much salt there was.
    assert [round(step.days) for step in fouling.steps] == [-85]
    assert fouling.rate.rate == pytest.approx(RATE, rel=0.15)
    best, low, high = fouling.wiped
    assert low < best < high and best == pytest.approx(math.exp(RATE * 7), abs=0.01)
    # The newest survey saw five of the seven days.
    assert fouling.cleaning_factor == pytest.approx(math.exp(RATE * 5), abs=0.005)


@pytest.mark.parametrize("factor", [1, 1.19])
def test_the_factor_told_for_a_cleaning_does_not_matter(tank, clean, factor):
    cleaned(tank, 100.1)
    salted(tank, 10, 90)
    cleaned(tank, 7, factor)
    salted(tank, 2, 5)
    assert [round(step.days) for step in salt(tank).steps] == [-85, 90]
    assert salt(tank).rate.rate == pytest.approx(RATE, rel=0.15)


def test_surveys_between_which_more_happened_tell_nothing(tank, clean):
    make_light_change(tank, happened_at=days_ago(50), factor=0.9, summary="Lid on")
    salted(tank, 10, 90)
    assert salt(tank).rate is None and fouling_words(salt(tank)) == []
    assert fouling_verdict(salt(tank)).startswith("Not known yet.")


def test_another_meter_widens_it(tank, clean):
    salted(tank, 10, 90)
    same = salt(tank).rate
    tank.surveys.update(meter=None)
    clean.meter = tank.owner.meters.create(label="Borrowed")
    clean.save()
    other = salt(tank).rate
    assert other.high - other.low > 1.3 * (same.high - same.low)


def test_no_loss_is_told_as_none(as_user, owner, tank, clean):
    salted(tank, 10, 0)
    assert not salt(tank).rate.shows_loss and fouling_words(salt(tank)) == []
    fouling = as_user(owner).get(reverse("forecast_scores", args=[tank.pk])).context["fouling"]
    assert not fouling.shows_loss and 0 <= fouling.most_percent < 2
    assert f"{fouling.most_percent:.0f}\u00a0% in 30 days" in fouling_verdict(fouling)


def test_pages_tell_it(as_user, owner, tank, clean):
    cleaned(tank, 100.1)
    salted(tank, 10, 90)
    client = as_user(owner)
    page = client.get(reverse("forecast_scores", args=[tank.pk]))
    fouling = page.context["fouling"]
    assert fouling.shows_loss and f"× {fouling.wiped[0]:.2f}" in page.content.decode()
    log = client.get(reverse("light_change_list", args=[tank.pk])).content.decode()
    assert "6\u00a0% in 30 days" in log and "#salt" in log


def test_page_says_what_it_takes(as_user, owner, tank, clean):
    make_light_change(tank, happened_at=days_ago(50), factor=0.9, summary="Lid on")
    salted(tank, 10, 90)
    page = as_user(owner).get(reverse("forecast_scores", args=[tank.pk])).content.decode()
    assert fouling_verdict(salt(tank)) in page
