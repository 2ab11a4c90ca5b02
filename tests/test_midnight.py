"""What keeps midnight out of the tests."""

import datetime as dt
import time
from types import SimpleNamespace

import pytest
import time_machine
from django.utils import timezone

from tests.midnight import LAST_S, taking_place, wait_for_tomorrow

EVE = dt.datetime(2026, 5, 3, 23, 59, 40, tzinfo=dt.UTC)


def test_tests_take_place_when_their_module_took_now():
    with time_machine.travel(EVE + dt.timedelta(minutes=5)):
        with taking_place(SimpleNamespace(NOW=EVE)):
            assert EVE <= timezone.now() < EVE + dt.timedelta(seconds=10)
        with taking_place(SimpleNamespace()):
            assert timezone.now().date() == dt.date(2026, 5, 4)


@pytest.mark.parametrize(("left_s", "waits"), [(LAST_S + 0.5, False), (LAST_S - 0.5, True)])
def test_no_test_begins_in_the_last_seconds_of_a_day(monkeypatch, left_s, waits):
    slept = []
    monkeypatch.setattr(time, "sleep", slept.append)
    midnight = EVE + dt.timedelta(seconds=20)
    with time_machine.travel(midnight - dt.timedelta(seconds=left_s), tick=False):
        wait_for_tomorrow()
    assert [round(s, 3) for s in slept] == [left_s] * waits
