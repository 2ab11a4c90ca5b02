"""The light history answers for any moment."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.lighting.history import light_history
from tests.factories import hang, make_light_change

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


@pytest.fixture
def history(tank):
    make_light_change(tank, happened_at=days_ago(50), factor=1.0, day_hours=10, ramp_hours=1)
    make_light_change(tank, happened_at=days_ago(20), factor=0.5, day_hours=None, ramp_hours=0)
    make_light_change(tank, happened_at=days_ago(10), factor=3.0, day_hours=8, ramp_hours=0)
    return light_history(tank)


def test_factors_multiply(history):
    assert history.factor_between(days_ago(30), NOW) == pytest.approx(1.5)


def test_factor_backwards_is_the_inverse(history):
    assert history.factor_between(NOW, days_ago(30)) == pytest.approx(1 / 1.5)


def test_factor_counts_the_change_at_the_end_moment(history):
    assert history.factor_between(days_ago(15), days_ago(10)) == pytest.approx(3.0)


def test_schedule_before_any_change_is_unknown(history):
    assert history.schedule_at(days_ago(60)) is None


def test_change_without_hours_keeps_the_schedule(history):
    assert history.schedule_at(days_ago(15)).full_hours == pytest.approx(9.0)


def test_removed_change_is_as_if_never_made(tank, history):
    tank.light_changes.get(factor=3.0).remove()
    assert light_history(tank).factor_between(days_ago(30), NOW) == pytest.approx(0.5)


def test_rig_stays_until_the_next_one_is_told(tank, history):
    hang(tank.light_changes.get(factor=1.0), height_cm=20)
    hang(tank.light_changes.get(factor=3.0), height_cm=33, beam_deg=55)
    stated = light_history(tank)
    assert stated.rig_at(days_ago(60)) == ()
    assert [f.height_cm for f in stated.rig_at(days_ago(15))] == [20]
    assert [(f.height_cm, f.beam_deg) for f in stated.rig_at(NOW)] == [(33, 55)]


def test_history_takes_three_queries(tank, history, django_assert_num_queries):
    hang(tank.light_changes.get(factor=1.0))
    with django_assert_num_queries(3):
        light_history(tank)


def test_first_description_of_the_rig_is_vague_and_later_ones_are_not(tank, history):
    hang(make_light_change(tank, happened_at=days_ago(45), factor=1), height_cm=20)
    hang(make_light_change(tank, happened_at=days_ago(40), factor=1), height_cm=25)
    stated = light_history(tank)
    first, *rest = stated.vague_between(NOW, days_ago(46))
    assert first.happened_at == days_ago(45) and first.factor == 1
    assert [change.factor for change in rest] == [0.5, 3.0]
    assert stated.vague_between(days_ago(45), days_ago(30)) == ()
