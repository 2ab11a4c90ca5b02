"""One light from all surveys: small ones join those before them, over changes of the rig."""

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone

from apps.lighting.history import light_history
from apps.lightmap.joint_input import joint_input, scale_deviation
from apps.lightmap.lightmap import tank_light
from apps.lightmap.survey_map import surveys_for_fitting
from reeflog.demo_light import true_par
from tests.factories import hang, make_light_change, make_lit_survey, make_meter, make_survey

NOW = timezone.now()
SPOTS = [(30, 30, 15), (15, 40, 30), (50, 12, 22)]
PPF = 120.0


def days_ago(n):
    return NOW - dt.timedelta(days=n)


@pytest.fixture
def surveyed(tank):
    """A panel surveyed 20 days ago by its true light, raised 5 days ago."""
    survey = make_lit_survey(tank, ppf_umol_s=PPF, taken_at=days_ago(20))
    panel = tank.owner.fixtures.get()
    change = make_light_change(tank, happened_at=days_ago(5), factor=1, summary="Raised")
    hang(change, panel, height_cm=33, beam_deg=55)
    return survey


def check(tank, factor=1.0, places=((20, 20, 12), (40, 42, 28)), **fields):
    """Make a survey of today at two places, of the true light times a factor."""
    rig = light_history(tank).rig_at(NOW)
    lit = true_par(places, tank=tank.scene(), fixtures=rig, ppf_umol_s=PPF)
    par = factor * np.asarray(lit)
    rows = [(*place, round(float(value), 1)) for place, value in zip(places, par, strict=True)]
    return make_survey(tank, taken_at=days_ago(0), readings=rows, **fields)


def input_of(tank, survey):
    surveys = surveys_for_fitting(tank)
    chosen = next(s for s in surveys if s.pk == survey.pk)
    return joint_input(chosen, surveys, light_history(tank))


def light(tank):
    return tank_light(tank).at(SPOTS, NOW)


def test_two_readings_after_a_change_serve_and_narrow_the_light(tank, surveyed):
    before = light(tank)
    today = check(tank)
    after = light(tank)
    assert {spot.survey_pk for spot in after} == {today.pk}
    assert not any(spot.predicted_since for spot in after)
    old, new = (
        np.mean([spot.high_umol / spot.low_umol for spot in spots]) for spots in (before, after)
    )
    assert new < 0.9 * old


def test_readings_of_more_light_raise_it(tank, surveyed):
    first = check(tank)
    before = np.array([spot.par_umol for spot in light(tank)])
    first.delete()
    check(tank, factor=1.15)
    after = np.array([spot.par_umol for spot in light(tank)])
    assert np.mean(after / before) > 1.05


def test_a_map_says_what_it_rests_on(tank, surveyed):
    today = check(tank)
    serving = tank_light(tank).map_for(NOW)
    assert [(c.survey_pk, c.count) for c in serving.fitted.rests_on] == [
        (surveyed.pk, surveyed.readings.count()),
        (today.pk, 2),
    ]


def test_its_page_shows_a_check_under_the_rig_of_its_day(tank, surveyed, as_user, owner):
    """The field on the survey's day is the light at that day, though followed from another rig."""
    check(tank)
    serving = tank_light(tank).map_for(NOW)
    by_field = serving.mapped.at(SPOTS).par_umol
    np.testing.assert_allclose(by_field, [spot.par_umol for spot in light(tank)], rtol=1e-9)
    assert len(serving.mapped.summary.loo_par_umol) == 2


def test_a_later_full_survey_is_the_one_that_is_followed_from(tank, surveyed):
    full = make_survey(tank, taken_at=days_ago(1))
    joint = input_of(tank, full)
    assert joint.anchor_at == full.taken_at and joint.place == 0
    assert joint.surveys[1].fixtures is not None


def test_a_survey_that_starts_anew_forgets_those_before(tank, surveyed):
    full = make_survey(tank, taken_at=days_ago(1), starts_anew=True)
    assert len(input_of(tank, full).surveys) == 1
    today = check(tank)
    assert {c.survey_pk for c in input_of(tank, today).rests_on} == {full.pk, today.pk}


def test_a_dark_survey_that_starts_anew_forgets_those_before_too(tank, surveyed):
    make_survey(tank, taken_at=days_ago(3), readings=[(20, 20, 12, 0)], starts_anew=True)
    full = make_survey(tank, taken_at=days_ago(1))
    assert [c.survey_pk for c in input_of(tank, full).rests_on] == [full.pk]


def test_ten_small_surveys_of_a_day_make_the_map_of_one(tank):
    readings = [
        (x, y, z, round(200 - 2 * z + x / 3)) for z in (8, 20, 35) for x in (10, 30, 50)
        for y in (12, 30, 48)
    ]  # fmt: skip
    for k in range(9):
        make_survey(tank, taken_at=NOW - dt.timedelta(minutes=9 - k), readings=readings[k::9])
    joined = np.array([spot.par_umol for spot in light(tank)])
    tank.surveys.all().delete()
    make_survey(tank, taken_at=NOW, readings=readings)
    np.testing.assert_allclose(joined, [spot.par_umol for spot in light(tank)], rtol=0.01)


def test_the_meters_stated_uncertainty_widens_the_light(tank, owner):
    meter = make_meter(owner, uncertainty_percent=None)
    make_survey(tank, taken_at=days_ago(1), meter=meter)
    narrow = light(tank)[0]
    meter.uncertainty_percent = 8
    meter.save()
    wide = light(tank)[0]
    assert wide.par_umol == pytest.approx(narrow.par_umol)
    own, both = (np.log(spot.high_umol / spot.par_umol) for spot in (narrow, wide))
    assert both == pytest.approx(np.hypot(own, 1.645 * np.log(1.08)))


@pytest.mark.parametrize(
    ("days", "other_meter", "vague", "deviation"),
    [
        (0, False, False, 0.0),
        (3, False, False, 0.02),
        (3, True, False, np.hypot(0.02, 0.05)),
        (3, False, True, np.hypot(0.02, 0.1)),
    ],
)
def test_how_far_two_surveys_scales_may_be_apart(tank, owner, days, other_meter, vague, deviation):
    meters = [make_meter(owner), make_meter(owner)]
    old = make_survey(tank, taken_at=days_ago(days), meter=meters[0])
    new = make_survey(tank, taken_at=days_ago(0), meter=meters[int(other_meter)])
    if vague:
        make_light_change(tank, happened_at=days_ago(1), factor=1, reason="cleaned")
    result = scale_deviation(old, new, light_history(tank))
    assert result == pytest.approx(deviation)


def test_readings_before_anyone_said_what_hung_are_not_joined(tank):
    make_survey(tank, taken_at=days_ago(30))
    make_lit_survey(tank, ppf_umol_s=PPF, taken_at=days_ago(20))
    newest = tank_light(tank).maps[-1]
    assert len(newest.fitted.rests_on) == 1


def test_a_survey_of_a_dark_tank_does_not_take_later_maps_away(tank, surveyed):
    """All its readings are 0: nothing to join, and the next survey still has its map."""
    make_survey(tank, taken_at=days_ago(3), readings=[(20, 20, 12, 0), (40, 42, 28, 0)])
    today = check(tank)
    assert {spot.survey_pk for spot in light(tank)} == {today.pk}


def test_a_survey_the_log_calls_dark_stands_for_itself(tank, surveyed):
    panel = tank.owner.fixtures.get()
    off = make_light_change(tank, happened_at=days_ago(2), factor=1, summary="Off")
    hang(off, panel, level_percent=0)
    full = make_survey(tank, taken_at=days_ago(1))
    serving = tank_light(tank).maps[-1]
    assert serving.survey_pk == full.pk and serving.field is not None
    assert len(serving.mapped.summary.loo_par_umol) == full.readings.count()


def test_the_same_lamps_listed_in_another_order_are_the_same_rig(tank):
    make_lit_survey(tank, ppf_umol_s=PPF, taken_at=days_ago(20))
    panel = tank.owner.fixtures.get()
    both = make_light_change(tank, happened_at=days_ago(15), factor=1, summary="Two")
    hang(both, panel, number=1, x_cm=15)
    hang(both, panel, number=2, x_cm=45)
    make_survey(tank, taken_at=days_ago(12))
    again = make_light_change(tank, happened_at=days_ago(10), factor=1, summary="Same again")
    hang(again, panel, number=2, x_cm=45)
    hang(again, panel, number=1, x_cm=15)
    full = make_survey(tank, taken_at=days_ago(1))
    assert full.pk in {c.survey_pk for c in input_of(tank, full).rests_on}
    assert len(tank_light(tank).maps[-1].mapped.summary.loo_par_umol) == full.readings.count()
