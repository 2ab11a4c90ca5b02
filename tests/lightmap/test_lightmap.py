"""From rows to light: which survey serves, what changes do, what is said without data."""

import datetime as dt

import pytest
from django.core.cache import caches
from django.utils import timezone

from apps.lightmap import joint_input, survey_map
from apps.lightmap.lightmap import tank_light
from apps.lightmap.logged_factors import widened
from tests.factories import hang, make_light_change, make_rock, make_survey

NOW = timezone.now()
MIDDLE = [(30, 30, 25)]


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def test_no_survey_gives_no_number(tank):
    assert tank_light(tank).at(MIDDLE, NOW) == [None]


def test_three_readings_give_a_sentence_instead_of_a_map(tank):
    make_survey(tank, readings=[(10, 10, 10, 100), (20, 20, 20, 90), (30, 30, 30, 80)])
    (fitted,) = tank_light(tank).maps
    assert fitted.field is None and "4" in fitted.problem


def test_light_falls_with_the_factor_of_a_change(tank):
    make_survey(tank, taken_at=days_ago(20))
    before = tank_light(tank).at(MIDDLE, days_ago(15))[0]
    make_light_change(tank, happened_at=days_ago(10), factor=0.5)
    after = tank_light(tank).at(MIDDLE, NOW)[0]
    assert after.par_umol == pytest.approx(before.par_umol / 2)
    assert after.changes_since == 1


def test_interval_widens_after_a_change(tank):
    make_survey(tank, taken_at=days_ago(20))
    make_light_change(tank, happened_at=days_ago(10), factor=1.0)
    light = tank_light(tank)
    before, after = light.at(MIDDLE, days_ago(15))[0], light.at(MIDDLE, NOW)[0]
    assert after.high_umol / after.low_umol > before.high_umol / before.low_umol


def test_later_survey_serves_an_earlier_moment_and_says_so(tank):
    make_survey(tank, taken_at=days_ago(5))
    make_light_change(tank, happened_at=days_ago(10), factor=0.5)
    early, late = tank_light(tank).at(MIDDLE, days_ago(15))[0], tank_light(tank).at(MIDDLE, NOW)[0]
    assert early.measured_later and early.par_umol == pytest.approx(2 * late.par_umol)


def test_reading_at_half_level_is_shown_at_the_peak(tank):
    full = make_survey(tank, taken_at=days_ago(9))
    peak = tank_light(tank).at(MIDDLE, NOW)[0].par_umol
    full.level_percent = 50
    full.save()
    assert tank_light(tank).at(MIDDLE, NOW)[0].par_umol == pytest.approx(2 * peak)


def test_no_schedule_no_dli(tank):
    make_survey(tank)
    assert tank_light(tank).at(MIDDLE, NOW)[0].dli_mol is None


def test_dli_is_par_times_hours(tank):
    make_survey(tank, taken_at=days_ago(3))
    make_light_change(tank, happened_at=days_ago(9), factor=1, day_hours=10, ramp_hours=0)
    light = tank_light(tank).at(MIDDLE, NOW)[0]
    assert light.dli_mol == pytest.approx(light.par_umol * 0.036)


def test_no_change_leaves_the_interval_alone():
    assert widened(100.0, 80.0, 130.0, 0) == pytest.approx((80.0, 130.0))


def test_rig_of_the_day_goes_into_the_fit(tank, monkeypatch):
    seen = {}
    real = joint_input.fit_light_field

    def spy(*args, **named):
        seen.update(named)
        return real(*args, **named)

    monkeypatch.setattr(joint_input, "fit_light_field", spy)
    hang(make_light_change(tank, happened_at=days_ago(30)), height_cm=21)
    hang(make_light_change(tank, happened_at=days_ago(1)), height_cm=40)
    make_survey(tank, taken_at=days_ago(9))
    tank_light(tank).at(MIDDLE, days_ago(9))
    assert [f.height_cm for f in seen["fixtures"]] == [21]


def test_tank_light_reads_in_few_queries(tank, django_assert_max_num_queries):
    hang(make_light_change(tank))
    make_survey(tank)
    make_survey(tank, taken_at=days_ago(9))
    with django_assert_max_num_queries(7):
        tank_light(tank)


def test_fit_that_breaks_is_told_in_words_and_not_as_a_broken_page(tank, monkeypatch):
    def broken(*args, **named):
        raise IndexError("look-up out of range")

    monkeypatch.setattr(joint_input, "fit_light_field", broken)
    # Another test may have left the map of just these readings.
    caches["maps"].clear()
    make_survey(tank)
    (fitted,) = tank_light(tank).maps
    assert fitted.field is None and "readings are kept" in fitted.problem


def test_only_the_survey_that_serves_is_fitted(tank, monkeypatch):
    fitted = []
    real = survey_map.fit_survey
    monkeypatch.setattr(
        survey_map, "fit_survey", lambda s, *rest: fitted.append(s) or real(s, *rest)
    )
    for days in (90, 60, 30):
        make_survey(tank, taken_at=days_ago(days))
    known = tank_light(tank)
    known.at(MIDDLE, days_ago(50))
    known.at(MIDDLE, days_ago(40))
    assert [s.taken_at for s in fitted] == [days_ago(60)]


def test_survey_that_carries_no_map_is_passed_over(tank):
    make_survey(tank, taken_at=days_ago(30))
    make_survey(tank, taken_at=days_ago(10), readings=[(10, 10, 10, 100)], starts_anew=True)
    assert tank_light(tank).at(MIDDLE, NOW)[0].surveyed_at == days_ago(30)


def test_within_rock_no_light_is_told(tank):
    make_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=20, length_cm=20, width_cm=20, height_cm=20)
    inside, on_top = tank_light(tank).at([(30, 30, 25), (30, 30, 20)], NOW)
    assert inside is None and on_top.par_umol > 0
