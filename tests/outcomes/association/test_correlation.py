"""One event beside the light its coral had: known scenarios give the true numbers and words."""

import datetime as dt

import pytest

from apps.corals.models import Spot
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.correlation import tank_outcomes, why_unknown
from tests.factories import (
    grid_readings,
    hang,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_rock,
    make_survey,
)
from tests.outcomes.association.pale_corals import date_ago, days_ago, pale

BRIGHT, DIM = (30, 30, 8), (30, 30, 45)


def only_event(tank):
    outcomes = tank_outcomes(tank)
    (event,) = outcomes.events
    return outcomes.exposed(event)


# --- One event ------------------------------------------------------------------------------


def test_light_on_the_eve_is_that_of_the_spot(lit):
    pale(make_coral(lit, at_cm=BRIGHT))
    expected = tank_light(lit).at([BRIGHT], days_ago(20))[0]
    assert only_event(lit).light.par_umol == pytest.approx(expected.par_umol)


def test_raised_light_shows_as_more_than_three_weeks_before(lit):
    make_light_change(lit, happened_at=days_ago(30), factor=1.5, day_hours=None, ramp_hours=0)
    pale(make_coral(lit))
    gap = only_event(lit).since_weeks_3
    assert gap.par_ratio == pytest.approx(1.5)
    assert gap.dli_ratio == pytest.approx(1.5)


def test_mean_weighs_each_stretch_by_its_days(lit):
    noon = dt.datetime.combine(date_ago(lit, 27), dt.time.min, tzinfo=lit.zone)
    make_light_change(lit, happened_at=noon, factor=2.0, day_hours=None, ramp_hours=0)
    pale(make_coral(lit), ago=20)
    found = only_event(lit)
    # 14 of the 21 days at half the light of the last 7.
    assert found.mean.par_umol == pytest.approx(found.light.par_umol * (14 * 0.5 + 7) / 21)
    assert found.mean.days == pytest.approx(21)


def test_longer_day_alone_raises_the_daily_light_only(lit):
    make_light_change(lit, happened_at=days_ago(30), factor=1, day_hours=12, ramp_hours=0)
    pale(make_coral(lit))
    found = only_event(lit)
    assert found.since_weeks_6.par_ratio == pytest.approx(1)
    assert found.since_weeks_6.dli_ratio == pytest.approx(1.2)
    assert (found.steps[0].hours_before, found.steps[0].hours_after) == (10, 12)


def test_lamp_turned_down_is_told_with_what_it_took_from_the_coral(tank):
    make_lit_survey(tank, taken_at=days_ago(60))
    make_light_change(
        tank, happened_at=days_ago(90), factor=1, summary="Hours set", day_hours=10, ramp_hours=0
    )
    change = make_light_change(
        tank, happened_at=days_ago(25), factor=1, summary="Halved", day_hours=None, ramp_hours=0
    )
    hang(change, tank.owner.fixtures.get(), level_percent=50)
    coral = make_coral(tank)
    pale(coral)
    x, y, depth = 30, 30, 25
    was, becomes = (tank_light(tank).at([(x, y, depth)], days_ago(n))[0] for n in (26, 24))
    (step,) = [step for step in only_event(tank).steps if step.words == "Halved"]
    assert step.factor == pytest.approx(becomes.par_umol / was.par_umol) and step.factor < 0.7


def test_what_is_done_on_the_day_of_the_note_is_not_before_it(lit):
    coral = make_coral(lit, at_cm=BRIGHT)
    x, y, depth = DIM
    Spot.objects.create(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=date_ago(lit, 20))
    pale(coral)
    found = only_event(lit)
    bright = tank_light(lit).at([BRIGHT], days_ago(20))[0]
    assert found.light.par_umol == pytest.approx(bright.par_umol) and found.steps == ()


def test_move_into_the_light_is_told_with_its_factor(lit):
    coral = make_coral(lit, at_cm=DIM)
    x, y, depth = BRIGHT
    Spot.objects.create(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=date_ago(lit, 30))
    pale(coral)
    found = only_event(lit)
    was, becomes = tank_light(lit).at([DIM, BRIGHT], days_ago(30))
    (step,) = found.steps
    assert (step.kind, step.on) == ("moved", date_ago(lit, 30))
    assert step.factor == pytest.approx(becomes.par_umol / was.par_umol)
    assert found.since_weeks_3.par_ratio == pytest.approx(step.factor)


def test_change_of_seven_weeks_ago_is_not_told(lit):
    make_light_change(lit, happened_at=days_ago(20 + 49), factor=1.5)
    pale(make_coral(lit))
    assert only_event(lit).steps == ()


def test_later_survey_is_told(tank):
    make_survey(tank, taken_at=days_ago(5))
    pale(make_coral(tank))
    assert only_event(tank).light.measured_later
    assert tank_outcomes(tank).missing.measured_later == 1


def test_new_survey_between_is_told(lit):
    make_survey(lit, taken_at=days_ago(25), readings=grid_readings(lit, top_umol=400))
    pale(make_coral(lit))
    assert only_event(lit).since_weeks_3.across_surveys


def test_unknown_for_want_of_a_survey(tank):
    pale(make_coral(tank))
    assert only_event(tank).unknown == "no_map"


def test_unknown_for_want_of_a_spot(lit):
    pale(make_coral(lit, at_cm=None))
    assert only_event(lit).unknown == "no_spot"


def test_unknown_when_it_came_that_day(lit):
    coral = make_coral(lit, added_on=date_ago(lit, 20))
    pale(coral)
    assert only_event(lit).unknown == "just_came"


def test_unknown_within_a_rock(lit):
    make_rock(lit, x_cm=20, y_cm=20, depth_cm=20, length_cm=20, width_cm=20, height_cm=10)
    pale(make_coral(lit, at_cm=(30, 30, 25), since=date_ago(lit, 600)))
    assert only_event(lit).unknown == "in_rock"


def test_unknown_after_it_left(lit):
    pale(make_coral(lit, gone_on=date_ago(lit, 40)))
    assert only_event(lit).unknown == "gone"


def test_unknown_for_no_reason_known_says_no_other(lit):
    coral = make_coral(lit)
    pale(coral)
    outcomes = tank_outcomes(lit)
    found = outcomes.book.coral_by_pk[coral.pk]
    assert why_unknown(outcomes.book, found, outcomes.events[0].first_on) == "other"


def test_short_stay_means_only_its_days(lit):
    coral = make_coral(lit, since=date_ago(lit, 25))
    pale(coral)
    found = only_event(lit)
    assert found.mean.days == pytest.approx(5) and found.since_weeks_3 is None


def test_no_schedule_no_daily_light(tank):
    make_survey(tank, taken_at=days_ago(100))
    pale(make_coral(tank))
    assert only_event(tank).mean.dli_mol is None


# --- Neighbours -----------------------------------------------------------------------------


def test_brighter_neighbours_are_counted_for_their_band(lit):
    pale(make_coral(lit, at_cm=(30, 30, 25)))
    make_coral(lit, at_cm=BRIGHT, name="Brighter, same group")
    # Dimmer as such, but far above a low band of its own.
    make_coral(lit, at_cm=DIM, name="Low band", band_low_umol=5, band_high_umol=10)
    make_coral(lit, at_cm=DIM, name="Dimmer")
    found = only_event(lit)
    assert (found.compared, found.brighter, found.brighter_plain) == (3, 2, 1)


def test_neighbour_with_the_same_note_is_not_counted(lit):
    pale(make_coral(lit, at_cm=DIM, name="A"))
    pale(make_coral(lit, at_cm=BRIGHT, name="B"), ago=30)
    outcomes = tank_outcomes(lit)
    found = outcomes.lit(outcomes.events[0])
    assert (found.event.coral_name, found.compared, found.together) == ("A", 0, 1)
    assert found.neighbours[0].same_note


def test_coral_gone_before_is_no_neighbour(lit):
    pale(make_coral(lit))
    make_coral(lit, name="Gone", gone_on=date_ago(lit, 40))
    assert only_event(lit).neighbours == ()
