"""The day of a plan: its times and levels give the daily light, and the rise comes slowly."""

import datetime as dt
import itertools
from dataclasses import replace

import pytest
from django.urls import reverse

from apps.photics.layout.hanging import HungKind, Layout
from apps.planning.layout.programme import clock, programme, read_clock
from apps.planning.layout.start_level import StartLevel
from apps.planning.stored_layout import read_question
from tests.factories import make_fixture
from tests.planning.layout.test_hanging import answered
from tests.planning.questions import make_layout_plan, posted

LAYOUT = Layout((HungKind(0, 110.0, ((30.0, 30.0),), 20.0, 0.8),))


@pytest.fixture
def stored(owner):
    return read_question(make_layout_plan(owner).asked)


def minutes(text):
    hour, minute = text.split(":")
    return 60 * int(hour) + int(minute)


def test_the_times_and_levels_give_the_hours_of_full_light(stored):
    rows = programme(stored, LAYOUT, StartLevel(1.0)).rows
    at, levels = [minutes(row.at) for row in rows], [row.levels[0] for row in rows]
    area = sum((b - a) * (p + q) / 2 for a, b, p, q in
               zip(at, at[1:], levels, levels[1:], strict=False))  # fmt: skip
    assert area / 60 / 80 == pytest.approx(stored.day_hours)
    assert levels == [0, 40, 80, 80, 40, 0]


def test_the_start_has_the_same_times_at_its_levels(stored):
    rows = programme(stored, LAYOUT, StartLevel(0.5)).rows
    assert [row.start_levels[0] for row in rows] == [0, 20, 40, 40, 20, 0]


def test_other_hours_give_the_same_light_and_none_beyond_full_level(stored):
    others = programme(stored, LAYOUT, StartLevel(1.0)).others
    assert all(day.full_hours * day.levels[0] == pytest.approx(9 * 80, rel=0.02) for day in others)
    assert max(day.levels[0] for day in others) <= 100
    assert 9.0 not in [day.full_hours for day in others]


def test_the_rise_goes_from_the_start_to_the_plan_in_bounded_steps(stored):
    rise = programme(stored, LAYOUT, StartLevel(0.5)).rise
    assert (rise[0].levels, rise[-1].levels) == ((40,), (80,))
    days = [row.day for row in rise]
    assert days == sorted(days) and days[-1] - days[1] >= 21
    for before, after in itertools.pairwise(rise):
        assert after.levels[0] <= before.levels[0] * 1.15**3 + 1


@pytest.mark.parametrize(("hours", "ramp"), [(0.0, 0.0), (1.0, 1.0), (9.0, 1.5), (23.5, 0.5)])
def test_two_ramps_fit_into_a_day_of_any_hours(stored, hours, ramp):
    day = programme(replace(stored, day_hours=hours), LAYOUT, StartLevel(0.5))
    assert day.ramp_hours == ramp and len(day.rows) == 6
    assert bool(day.others) == (0.0 < hours <= 15.0)


def test_where_nothing_rises_there_is_no_rise(stored):
    assert programme(stored, LAYOUT, StartLevel(1.0)).rise == ()


@pytest.mark.parametrize(
    ("minute", "text"), [(0, "00:00"), (605.0, "10:05"), (24 * 60 + 90, "01:30")]
)
def test_a_clock_goes_on_past_midnight(minute, text):
    assert clock(minute) == text


@pytest.mark.parametrize(("text", "hour"), [("09:30", 9), ("", 10), ("noon", 10), ("25:00", 10)])
def test_an_odd_time_is_the_usual_one(text, hour):
    assert read_clock(text).hour == hour


def test_an_answer_prints_its_day_and_channels(as_user, owner, tank):
    channels = [{"name": "Royal", "peak_nm": 450, "share_percent": 60},
                {"name": "White", "white_kelvin": 6500, "share_percent": 40}]  # fmt: skip
    fixture = make_fixture(owner, ppf_umol_s=60, channels=channels)
    client = as_user(owner)
    sent = posted(**{"fixture-0-source": f"own:{fixture.pk}"})
    client.post(reverse("tank_layout_new", args=[tank.pk]), sent)
    plan = answered(owner.plans.get())
    page = client.get(reverse("layout_answer", args=[plan.pk, 1]), {"on": "08:30"})
    day = page.context["day"]
    assert day.rows[0].at == "08:30" and read_clock("08:30") == dt.time(8, 30)
    assert day.channels == ((fixture.name, ("Royal", "White")),)
