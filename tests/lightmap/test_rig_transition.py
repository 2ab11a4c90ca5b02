"""The light log foretold: what fixtures do to the light at a spot after a survey."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.drawing.level import level_points
from apps.lighting.history import light_history
from apps.lightmap.difference.light_effect import light_effect
from apps.lightmap.lightmap import tank_light
from apps.lightmap.review.reviewing import change_facts
from apps.lightmap.rig_transition import AGEING_DEVIATION, transition_between
from apps.photics.field.light_field import HALF_WIDTH
from reeflog.demo_light import true_par
from tests.factories import (
    grid_readings,
    hang,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_rock,
    make_survey,
)

NOW = timezone.now()
SPOTS = [(30, 30, 15), (15, 40, 30), (50, 12, 22)]
PPF = 120.0


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def change_rig(tank, days, panel, *, factor=1, **settings):
    """Enter a change that hangs the panel otherwise; return the photics fixture after it."""
    change = make_light_change(
        tank, happened_at=days_ago(days), factor=factor, summary="Changed", day_hours=None,
        ramp_hours=0,
    )  # fmt: skip
    return hang(change, panel, **settings).scene()


@pytest.fixture
def surveyed(tank):
    """A panel over the tank, surveyed 20 days ago by its true light."""
    make_lit_survey(tank, ppf_umol_s=PPF, taken_at=days_ago(20))
    return tank.owner.fixtures.get()


def light(tank, days=0):
    return np.array([spot.par_umol for spot in tank_light(tank).at(SPOTS, days_ago(days))])


@pytest.mark.parametrize(
    "hung_now",
    [{"level_percent": 45}, {"height_cm": 33}, {"height_cm": 33, "beam_deg": 55}, {"x_cm": 20}],
    ids=["dimmed", "raised", "raised under a lens", "moved"],
)
def test_map_follows_what_the_fixture_does(tank, surveyed, hung_now):
    after = change_rig(tank, 5, surveyed, **hung_now)
    field = tank_light(tank).map_for(NOW).field
    assert light(tank) == pytest.approx(field.forecast([after]).at(np.array(SPOTS)).par_umol)
    assert light(tank) != pytest.approx(light(tank, 10), rel=0.01)


def test_dimming_scales_exactly(tank, surveyed):
    measured = light(tank, 10)
    change_rig(tank, 5, surveyed, level_percent=45)
    assert light(tank) == pytest.approx(0.45 * measured)


def test_factor_comes_on_top(tank, surveyed):
    measured = light(tank, 10)
    change_rig(tank, 5, surveyed, level_percent=50, factor=0.8)
    assert light(tank) == pytest.approx(0.4 * measured)


def test_day_before_the_change_is_as_measured(tank, surveyed):
    measured = light(tank, 10)
    change_rig(tank, 5, surveyed, height_cm=33)
    assert light(tank, 10) == pytest.approx(measured)


def test_earlier_rig_is_worked_back(tank):
    panel = make_fixture(tank.owner)
    old = change_rig(tank, 40, panel, height_cm=33)
    new = change_rig(tank, 30, panel, height_cm=20)
    places = [row[:3] for row in grid_readings(tank)]
    par = true_par(places, tank=tank.scene(), fixtures=[new], ppf_umol_s=PPF)
    make_survey(
        tank, taken_at=days_ago(20), readings=[(*p, v) for p, v in zip(places, par, strict=True)]
    )
    (spot, *_) = tank_light(tank).at(SPOTS, days_ago(35))
    truth = true_par(SPOTS[:1], tank=tank.scene(), fixtures=[old], ppf_umol_s=PPF)
    assert spot.measured_later and spot.par_umol == pytest.approx(truth[0], rel=0.1)


def test_nothing_hung_is_dark(tank, surveyed):
    change = make_light_change(tank, happened_at=days_ago(5), factor=0.5, summary="Down")
    change.tells_rig = True
    change.save()
    (spot, *_) = tank_light(tank).at(SPOTS, NOW)
    assert (spot.par_umol, spot.high_umol, spot.dli_mol) == (0, pytest.approx(0), 0)


def test_second_fixture_adds_its_light(tank, surveyed):
    measured = light(tank, 10)
    change = make_light_change(tank, happened_at=days_ago(5), factor=1)
    hang(change, surveyed)
    hang(change, surveyed, x_cm=10)
    assert (light(tank) > 1.05 * measured).all()


def test_another_make_is_less_sure(tank, surveyed):
    def spread():
        (spot, *_) = tank_light(tank).at(SPOTS, NOW)
        return spot.high_umol / spot.low_umol

    change = make_light_change(tank, happened_at=days_ago(5), factor=1)
    hang(change, surveyed, number=2)
    like = spread()
    change.hung.update(name="Bar", kind="bar", lit_length_cm=50, lit_width_cm=4)
    assert spread() > 1.3 * like


def test_survey_without_its_fixtures_is_rescaled(tank):
    """Hung and described only after the survey: the map follows by the ratio of two rigs."""
    make_survey(tank, taken_at=days_ago(20))
    panel = make_fixture(tank.owner)
    change_rig(tank, 15, panel)
    measured = light(tank, 10)
    change_rig(tank, 5, panel, level_percent=50)
    assert light(tank) == pytest.approx(0.5 * measured)


def test_first_description_alone_changes_nothing_but_the_trust(tank):
    make_survey(tank, taken_at=days_ago(20))
    (before, *_) = tank_light(tank).at(SPOTS, NOW)
    change_rig(tank, 5, make_fixture(tank.owner))
    (after, *_) = tank_light(tank).at(SPOTS, NOW)
    assert after.par_umol == before.par_umol and after.low_umol < before.low_umol


def test_levels_told_by_fixtures_add_no_doubt(tank, surveyed):
    (before, *_) = tank_light(tank).at(SPOTS, days_ago(10))
    change_rig(tank, 5, surveyed, level_percent=50)
    (after, *_) = tank_light(tank).at(SPOTS, NOW)
    ratios = [spot.high_umol / spot.low_umol for spot in (before, after)]
    assert ratios[1] == pytest.approx(ratios[0])


def test_hours_alone_leave_the_light_as_measured(tank, surveyed):
    make_light_change(tank, happened_at=days_ago(5), factor=1, reason="hours", day_hours=9)
    (spot, *_) = tank_light(tank).at(SPOTS, NOW)
    assert spot.predicted_since is None and spot.changes_since == 1


def test_prediction_says_since_when(tank, surveyed):
    change_rig(tank, 5, surveyed, height_cm=33)
    (spot, *_) = tank_light(tank).at(SPOTS, NOW)
    assert (spot.predicted_since, spot.surveyed_at) == (days_ago(5), days_ago(20))


def test_only_the_survey_that_serves_is_fitted(tank, surveyed, monkeypatch):
    from apps.lightmap import survey_map

    for days in (60, 50, 40):
        make_survey(tank, taken_at=days_ago(days))
    fitted = []
    real = survey_map.fit_survey

    def spy(survey, *rest):
        fitted.append(survey.taken_at)
        return real(survey, *rest)

    monkeypatch.setattr(survey_map, "fit_survey", spy)
    tank_light(tank).at(SPOTS, NOW)
    assert fitted == [days_ago(20)]


def test_tubes_lose_light_by_the_hour_and_are_reset_by_new_ones(tank, surveyed):
    hung = tank.light_changes.get().hung.get()
    hung.loss_percent = 20
    hung.save()
    # 20 days of 10 h.
    aged = light(tank, 0) / light(tank, 20)
    assert aged == pytest.approx(0.8 ** (200 / 1000))
    make_light_change(
        tank, happened_at=days_ago(10), factor=1, reason="tubes", summary="", day_hours=None,
        ramp_hours=0,
    )  # fmt: skip
    # At the survey the tubes were 10 days old (hung 30 days ago), now they are 10 days old again.
    # The clock runs on between the two: a second is 2e-6 of the light here.
    assert light(tank, 0) == pytest.approx(light(tank, 20), rel=1e-4)


def test_transition_of_an_unchanged_rig_is_none(tank, surveyed):
    change_rig(tank, 5, surveyed)
    assert transition_between(light_history(tank), days_ago(20), NOW) is None


def test_fixture_swapped_under_the_same_number_is_another(tank, surveyed):
    change_rig(tank, 5, make_fixture(tank.owner, name="Bar", lit_width_cm=5))
    transition = transition_between(light_history(tank), days_ago(20), NOW)
    assert [f.level for f in transition.after] == [0, 1] and transition.same_as == (None, 0)


def test_map_page_shows_the_forecast(as_user, owner, tank, surveyed):
    change_rig(tank, 5, surveyed, height_cm=33, beam_deg=55)
    shown = as_user(owner).get(reverse("light_map", args=[tank.pk])).context["page"]
    field = shown.light.field.field
    assert shown.light.shown == "today" and field.fixtures[0].height_cm == 33
    measured = as_user(owner).get(reverse("light_map", args=[tank.pk]) + "?shown=measured")
    assert measured.context["page"].light.field.field.fixtures[0].height_cm == 20
    at = tank_light(tank).at(SPOTS, NOW)
    assert field.at(np.array(SPOTS, float)).par_umol == pytest.approx([f.par_umol for f in at])


def test_page_of_a_dark_tank_says_so(as_user, owner, tank, surveyed):
    change = make_light_change(tank, happened_at=days_ago(5), factor=1, summary="Down")
    change.tells_rig = True
    change.save()
    page = as_user(owner).get(reverse("light_map", args=[tank.pk]))
    light = page.context["page"].light
    assert light.dark and light.shown == "measured"
    assert "notice--warning" in page.content.decode()


@pytest.mark.parametrize("view", ["par", "shadow"])
def test_forecast_map_can_be_looked_at_every_way(as_user, owner, tank, surveyed, view):
    change_rig(tank, 5, surveyed, height_cm=33)
    client = as_user(owner)
    for name in ("light_map", "light_map_why", "light_map_next"):
        url = reverse(name, args=[tank.pk]) + f"?view={view}&next=3"
        assert client.get(url).status_code == 200


def test_levels_do_not_reach_into_the_fit(tank, surveyed):
    """The survey's own fixtures are those of its day, whatever came later."""
    field = tank_light(tank).map_for(NOW).field
    assert field.fixtures == (replace(field.fixtures[0], height_cm=20.0),)


def test_light_of_ageing_tubes_is_told_step_by_step(tank, surveyed):
    tank.light_changes.get().hung.update(loss_percent=20)
    light = tank_light(tank)
    steps = light.steps_between(days_ago(1000), NOW + dt.timedelta(days=1000))
    # Hung 30 days ago: after 14 and 28 days, beside the hanging and the survey.
    assert len(steps) == 4


@pytest.mark.parametrize("described", ["before the survey", "after it"])
def test_a_fifth_less_of_all_lamps_is_sure_over_all_the_water(tank, described):
    panel = make_fixture(tank.owner)
    change_rig(tank, 30 if described == "before the survey" else 15, panel)
    make_survey(tank, taken_at=days_ago(20))
    change_rig(tank, 5, panel, level_percent=80)
    effect = light_effect(tank_light(tank), tank.light_changes.latest("happened_at").pk)
    change = effect.ratio_at(level_points(tank, 5.0)[2])
    np.testing.assert_allclose([change.low, change.ratio, change.high], 0.8, rtol=1e-6)
    assert change_facts(tank, change, depth_cm=5.0, unit="cm").dimmer_percent == 100


def test_age_is_as_unsure_where_lamps_were_described_after_the_survey(tank):
    make_survey(tank, taken_at=days_ago(20))
    hung = make_light_change(tank, happened_at=days_ago(15), factor=1)
    hang(hung, make_fixture(tank.owner), loss_percent=20)
    light = tank_light(tank)
    serving = light.map_for(NOW)
    aged = light.transition(serving, NOW)
    followed = light.followed(serving, SPOTS)
    change = followed.ratio(None, aged)
    assert (change.ratio < 1).all()
    half = HALF_WIDTH * AGEING_DEVIATION * np.abs(np.log(change.ratio))
    np.testing.assert_allclose(np.log(change.high / change.ratio), half)
    # What age left unsure is in both, and levels are known.
    dimmed = replace(aged, after=tuple(replace(f, level=f.level / 2) for f in aged.after))
    halved = followed.ratio(aged, dimmed)
    np.testing.assert_allclose([halved.low, halved.ratio, halved.high], 0.5)


AGEING_DATES = [
    pytest.param(399, 0, id="across the survey"),
    pytest.param(399, 250, id="both before it"),
    pytest.param(150, 0, id="both after it"),
    pytest.param(200, 0, id="from the survey on"),
]


def ageing_between(tank, first, second):
    """Return the FieldChange from one day to another, so many days ago."""
    light = tank_light(tank)
    serving = light.map_for(NOW)
    followed = light.followed(serving, SPOTS)
    return followed.ratio(*(light.transition(serving, days_ago(days)) for days in (first, second)))


def is_half_of_its_log(change):
    half = HALF_WIDTH * AGEING_DEVIATION * np.abs(np.log(change.ratio))
    np.testing.assert_allclose(np.log(change.high / change.ratio), half, rtol=1e-3)
    np.testing.assert_allclose(np.log(change.ratio / change.low), half, rtol=1e-3)


@pytest.mark.parametrize(("first", "second"), AGEING_DATES)
def test_age_between_two_dates_is_one_error(tank, first, second):
    make_lit_survey(tank, taken_at=days_ago(200))
    hung = tank.light_changes.get()
    hung.happened_at = days_ago(400)
    hung.save()
    hung.hung.update(loss_percent=20)
    change = ageing_between(tank, first, second)
    assert (change.ratio < 0.9).all()
    is_half_of_its_log(change)


def test_age_between_two_dates_after_an_undescribed_survey_is_one_error(tank):
    make_survey(tank, taken_at=days_ago(400))
    hung = make_light_change(tank, happened_at=days_ago(300), factor=1)
    hang(hung, make_fixture(tank.owner), loss_percent=20)
    change = ageing_between(tank, 150, 0)
    assert (change.ratio < 0.9).all()
    is_half_of_its_log(change)


def test_rock_is_no_part_of_the_area_that_changed(tank, surveyed):
    make_rock(tank, x_cm=10, y_cm=10, depth_cm=20, length_cm=20, width_cm=20, height_cm=20)
    change_rig(tank, 5, surveyed, level_percent=80)
    effect = light_effect(tank_light(tank), tank.light_changes.latest("happened_at").pk)
    change = effect.ratio_at(level_points(tank, 30.0)[2])
    assert change.in_rock.any()
    inside = replace(change, is_real=change.is_real & ~change.in_rock)
    for one in (change, inside):
        assert change_facts(tank, one, depth_cm=30.0, unit="cm").dimmer_percent == 100
