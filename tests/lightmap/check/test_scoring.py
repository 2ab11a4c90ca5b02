"""A new survey scores the forecast that stood on its day, and the score is shown."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lightmap.check.scoring import running_score, survey_score
from apps.lightmap.lightmap import tank_light
from reeflog.demo_light import true_par
from tests.factories import (
    grid_readings,
    hang,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_survey,
)

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def read_again(tank, days, fixture, *, times=1.0):
    """Survey the true light of a fixture, dimmed by what the log does not know."""
    places = [row[:3] for row in grid_readings(tank)]
    par = true_par(places, tank=tank.scene(), fixtures=[fixture], ppf_umol_s=120.0) * times
    rows = [(*place, round(float(v), 1)) for place, v in zip(places, par, strict=True)]
    return make_survey(tank, taken_at=days_ago(days), readings=rows)


@pytest.fixture
def dimmed(tank):
    """A panel surveyed 20 days ago and turned to half 10 days ago; the photics fixture now."""
    make_lit_survey(tank, taken_at=days_ago(20))
    change = make_light_change(tank, happened_at=days_ago(10), factor=1, reason="level")
    return hang(change, tank.owner.fixtures.get(), level_percent=50).scene()


def test_survey_scores_the_forecast(tank, dimmed):
    survey = read_again(tank, 2, dimmed)
    scored = survey_score(tank_light(tank), survey)
    assert scored.score.n == 27 and scored.score.error_percent < 8
    assert scored.score.ratio == pytest.approx(1, abs=0.03) and not scored.moved
    assert [change.reason for change in scored.changes] == ["level"]


def with_meter(survey, meter):
    survey.meter = meter
    survey.save()


def test_one_meters_scale_cancels_between_forecast_and_readings(tank, owner, dimmed):
    survey = read_again(tank, 2, dimmed, times=0.9)
    plain = survey_score(tank_light(tank), survey)
    meter = make_meter(owner, uncertainty_percent=8)
    for one in tank.surveys.all():
        with_meter(one, meter)
    same = survey_score(tank_light(tank), tank.surveys.get(pk=survey.pk))
    assert same.score.ratio_high == pytest.approx(plain.score.ratio_high)
    ends = [[(r.low_umol, r.high_umol) for r in one.readings] for one in (plain, same)]
    np.testing.assert_allclose(*ends)


def test_two_meters_of_unsure_scales_explain_a_difference(tank, owner, dimmed):
    survey = read_again(tank, 2, dimmed, times=0.9)
    assert survey_score(tank_light(tank), survey).unexplained
    for one in tank.surveys.all():
        with_meter(one, make_meter(owner, uncertainty_percent=8))
    scored = survey_score(tank_light(tank), tank.surveys.get(pk=survey.pk))
    assert not scored.unexplained and scored.score.ratio == pytest.approx(0.9, abs=0.03)


def test_loss_the_log_does_not_know_is_told(as_user, owner, tank, dimmed):
    survey = read_again(tank, 2, dimmed, times=0.8)
    scored = survey_score(tank_light(tank), survey)
    assert scored.unexplained and scored.score.ratio == pytest.approx(0.8, abs=0.03)
    assert not scored.moved and scored.cleaning is None
    page = as_user(owner).get(reverse("survey_review", args=[survey.pk]))
    assert page.context["score"].score == scored.score and scored.reason in page.content.decode()


def test_one_cleaning_in_between_gets_its_factor(as_user, owner, tank, dimmed):
    change = make_light_change(
        tank, happened_at=days_ago(5), factor=1, reason="cleaned", summary="Wiped the panel"
    )
    survey = read_again(tank, 2, dimmed, times=1.25)
    scored = survey_score(tank_light(tank), survey)
    assert scored.open_cleaning.pk == change.pk and "“Wiped the panel”" in scored.reason
    assert scored.score.ratio == pytest.approx(1.25, abs=0.05) and "1.2" in scored.reason
    page = as_user(owner).get(reverse("survey_review", args=[survey.pk]))
    assert page.context["score"].open_cleaning.pk == change.pk
    assert scored.reason in page.content.decode()


@pytest.mark.parametrize(
    ("done", "times", "percent"), [("on", 0.6, 60.0), ("off", 1 / 0.6, 60.0), ("on", 0.8, 80.0)]
)
def test_readings_tell_what_a_screen_passes(as_user, owner, tank, dimmed, done, times, percent):
    change = make_light_change(
        tank, happened_at=days_ago(5), factor=1, reason="cover", cover="screen", cover_done=done,
        cover_percent=80,
    )  # fmt: skip
    survey = read_again(tank, 2, dimmed, times=times)
    cover = survey_score(tank_light(tank), survey).cover
    assert cover.change.pk == change.pk and cover.entered_percent == pytest.approx(80)
    assert cover.percent == pytest.approx(percent, abs=2.5)
    assert cover.low_percent < percent < cover.high_percent
    assert cover.is_other == (percent != 80)
    page = as_user(owner).get(reverse("survey_review", args=[survey.pk])).content.decode()
    assert "data-cover-read" in page and f"{cover.percent:.0f} %" in page.replace("\u00a0", " ")


def test_more_light_than_any_cover_leaves_is_not_the_covers(tank, dimmed):
    make_light_change(
        tank, happened_at=days_ago(5), factor=1, reason="cover", cover="lid", cover_done="on",
        cover_percent=95,
    )  # fmt: skip
    survey = read_again(tank, 2, dimmed, times=1.25)
    much = survey_score(tank_light(tank), survey)
    assert much.unexplained and much.cover is None
    survey.delete()
    survey = read_again(tank, 2, dimmed, times=1.01)
    whole = survey_score(tank_light(tank), survey).cover
    assert 95 <= whole.percent <= whole.high_percent == 100


def test_a_cover_beside_another_guess_is_not_read_back(tank, dimmed):
    make_light_change(
        tank, happened_at=days_ago(5), factor=0.9, reason="cover", cover="screen",
        cover_done="on", cover_percent=80,
    )  # fmt: skip
    survey = read_again(tank, 2, dimmed, times=0.6)
    assert survey_score(tank_light(tank), survey).cover is None


def test_first_survey_scores_nothing(tank):
    survey = make_lit_survey(tank)
    assert survey_score(tank_light(tank), survey) is None
    assert running_score(tank_light(tank)).together is None


def test_fixtures_that_moved_come_before_a_cleaning(tank, dimmed):
    survey = read_again(tank, 2, dimmed, times=0.8)
    scored = survey_score(tank_light(tank), survey)
    moved = replace(scored, moved=True, cleaning=tank.light_changes.first())
    assert moved.reason.startswith("Lamps moved in between") and moved.open_cleaning is None


def test_running_score_pools_all_readings(tank, dimmed):
    read_again(tank, 4, dimmed)
    read_again(tank, 2, dimmed)
    running = running_score(tank_light(tank))
    assert (len(running.scores), running.together.n) == (2, 54)


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_scores_are_for_those_who_read_the_tank(request, as_user, tank, dimmed, who, status):
    read_again(tank, 2, dimmed)
    client = as_user(request.getfixturevalue(who))
    response = client.get(reverse("forecast_scores", args=[tank.pk]))
    assert response.status_code == status
    if status == 200:
        assert "of 1 survey" in response.content.decode()


def test_light_log_tells_the_running_score(as_user, owner, tank, dimmed):
    read_again(tank, 2, dimmed)
    make_light_change(tank, happened_at=days_ago(1), factor=0.9, summary="Lid on")
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk]))
    ((text, url),) = page.context["forecasts"]
    assert "27 readings" in text and url == reverse("forecast_scores", args=[tank.pk])
    assert text in page.content.decode()


def test_page_without_a_score_says_what_it_takes(as_user, owner, tank):
    page = as_user(owner).get(reverse("forecast_scores", args=[tank.pk]))
    assert page.context["running"].together is None and 'class="empty"' in page.content.decode()
