"""The light of a visit: what it was used to, what is sure of it, hours above the band."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.lightmap.lightmap import tank_light
from apps.lightmap.logged_factors import CHANGE_LOG_DEVIATION
from apps.outcomes.association.events import corals_with_notes
from apps.outcomes.exposure.exposure import LightBook
from apps.outcomes.exposure.visit_exposure import visit_exposure
from tests.factories import make_coral, make_light_change, make_meter, make_survey

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


@pytest.fixture
def lit(tank):
    make_survey(tank, taken_at=days_ago(150))
    make_light_change(tank, happened_at=days_ago(200), factor=1, day_hours=10, ramp_hours=1)
    return tank


def exposed(coral, ago=0):
    book = LightBook(coral.tank, corals_with_notes(coral.tank), tank_light(coral.tank))
    mine = next(c for c in book.corals if c.pk == coral.pk)
    return visit_exposure(book, mine, coral.tank.today() - dt.timedelta(days=ago))


def test_steady_light_is_what_it_is_used_to_and_surely_so(lit):
    found = exposed(make_coral(lit))
    assert found.ratio == 1 and found.ratio_low == found.ratio_high == 1
    assert found.before.days_since_change is None and not found.by_par


@pytest.mark.parametrize("hour", [0, 11, 13, 23])
def test_days_since_a_change_are_counted_by_date_whatever_its_hour(lit, hour):
    coral = make_coral(lit)
    day = lit.today() - dt.timedelta(days=5)
    at = dt.datetime.combine(day, dt.time(hour, 30), tzinfo=lit.zone)
    make_light_change(lit, happened_at=at, factor=2, day_hours=10, ramp_hours=1)
    assert exposed(coral).days_since_change == 5


def test_raised_light_is_told_with_the_doubt_of_its_factor_alone(lit):
    coral = make_coral(lit)
    make_light_change(lit, happened_at=days_ago(5), factor=2, day_hours=10, ramp_hours=1)
    found = exposed(coral)
    assert found.before.rise_log2 == pytest.approx(1) and found.before.fall_log2 == 0
    assert found.days_since_change == 5
    # Of two unknowns, map and factor, the first drops out of the ratio.
    assert found.before.high_log2 - found.before.log2_ratio < 1.645 * CHANGE_LOG_DEVIATION / 0.69
    assert found.side == "above" and found.sure and found.before.high_log2 > found.before.log2_ratio


def test_longer_day_is_a_rise_of_daily_light(lit):
    coral = make_coral(lit)
    make_light_change(lit, happened_at=days_ago(5), factor=1, day_hours=13, ramp_hours=1)
    # 9 hours of full light become 12.
    assert 2 ** exposed(coral).before.rise_log2 == pytest.approx(12 / 9)


def test_move_carries_the_doubt_of_both_spots(lit):
    coral = make_coral(lit, at_cm=(30, 30, 45))
    coral.spots.create(x_cm=30, y_cm=30, depth_cm=5, since=lit.today() - dt.timedelta(days=10))
    found = exposed(coral)
    assert found.ratio > 1 and found.before.low_log2 < found.before.log2_ratio


def test_a_meters_scale_falls_out_of_a_move(tank, owner):
    """Both spots were read by one meter: what it is off by is in both lights and in no ratio."""
    meter = make_meter(owner, uncertainty_percent=0.1)
    make_survey(tank, taken_at=days_ago(150), meter=meter)
    coral = make_coral(tank, at_cm=(30, 30, 45))
    coral.spots.create(x_cm=30, y_cm=30, depth_cm=5, since=tank.today() - dt.timedelta(days=10))
    sure = exposed(coral)
    meter.uncertainty_percent = 15
    meter.save()
    unsure = exposed(coral)
    assert unsure.light.high_umol > 1.1 * sure.light.high_umol
    assert unsure.ratio_low == pytest.approx(sure.ratio_low, rel=1e-6)


def test_new_survey_is_no_change_of_light(lit):
    coral = make_coral(lit)
    make_survey(lit, taken_at=days_ago(5), readings=[(x, y, d, 400) for x in (5, 30, 55)
                for y in (5, 30, 55) for d in (5, 25, 45)])  # fmt: skip
    found = exposed(coral)
    assert found.before.rise_log2 == 0 and found.ratio == pytest.approx(1)


def test_hours_above_the_band_follow_the_ramps(lit):
    coral = make_coral(lit, band_low_umol=50, band_high_umol=100)
    found = exposed(coral)
    level = 100 / found.light.par_umol
    # Each of two ramps of an hour is above for its last part.
    assert found.hours_above.value == pytest.approx(8 + 2 * (1 - level))
    assert found.hours_above.low < found.hours_above.value < found.hours_above.high


def test_unknown_hours_leave_par_and_no_hours(tank):
    make_survey(tank, taken_at=days_ago(150))
    found = exposed(make_coral(tank))
    assert found.by_par and found.hours_above is None


def test_no_light_before_it_came(lit):
    assert exposed(make_coral(lit, since=lit.today())) is None


def test_coral_of_three_days_knows_three_days(lit):
    found = exposed(make_coral(lit, since=lit.today() - dt.timedelta(days=3)))
    assert found.before.days_known == pytest.approx(3, abs=0.1)
