"""One change is told as the whole log tells it, though only its neighbours are read."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.corals.coral.change_views import entry_of
from apps.lighting.change.log import light_log
from apps.lighting.history import light_history
from apps.lighting.rig_reading import rigs_after
from tests.factories import hang, make_fixture, make_light_change


@pytest.fixture
def log(tank):
    """A log in which entries with and without a rig and with and without hours follow."""
    panel = make_fixture(tank.owner)
    for n, height in enumerate((20, None, 24, None, None, 28)):
        at = timezone.now() - dt.timedelta(days=60 - 5 * n)
        hours = {"day_hours": 9 + n, "ramp_hours": 1} if n % 2 else {"day_hours": None}
        change = make_light_change(tank, happened_at=at, **({"ramp_hours": 0} | hours))
        if height is not None:
            hang(change, panel, height_cm=height, told=["height_cm"] if n else ["hung"])
    changes, rigs = list(tank.light_changes.present()), rigs_after(tank)
    query = {"rigs": rigs, "surveyed_at": None, "now": timezone.now(), "unit": "cm"}
    return light_log(changes, light_history(tank), **query).entries


def told(entry):
    return entry.factor, entry.differences, entry.day_words, entry.doubts


@pytest.mark.parametrize("place", range(6))
def test_entry_is_as_in_the_log(tank, log, place):
    expected = log[place]
    result = entry_of(tank, light_history(tank), expected.change.pk, "cm")
    assert result.change == expected.change and told(result) == told(expected)


def test_moves_are_told_at_all(log):
    assert any(entry.differences for entry in log[:-1])


def test_only_what_stands_before_is_read(tank, log, django_assert_max_num_queries):
    history = light_history(tank)
    with django_assert_max_num_queries(2):
        entry_of(tank, history, log[0].change.pk, "cm")
