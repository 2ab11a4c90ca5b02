"""Moments become percents, values pixels, and steps paths."""

import datetime as dt
import zoneinfo

import pytest

from apps.drawing.time_axis import (
    Step,
    Tick,
    TimeAxis,
    ValueAxis,
    band_path,
    kind_paths,
    round_step,
    step_path,
    value_axis,
)

ZONE = zoneinfo.ZoneInfo("Europe/Berlin")


def at(month, day, year=2026, hour=0):
    return dt.datetime(year, month, day, hour, tzinfo=ZONE)


TEN_DAYS = TimeAxis(at(5, 1), at(5, 11))
HUNDRED = ValueAxis(100.0, 50.0)


def test_moment_lies_in_proportion():
    assert TEN_DAYS.percent(at(5, 6)) == 50.0


def test_moment_outside_is_held_to_the_edge():
    assert (TEN_DAYS.percent(at(4, 1)), TEN_DAYS.percent(at(6, 1))) == (0.0, 100.0)


@pytest.mark.parametrize(
    ("start", "end", "labels"),
    [
        (at(5, 1), at(5, 4), ["1 May", "2 May", "3 May", "4 May"]),
        (at(1, 10), at(6, 20), ["Feb", "Mar", "Apr", "May", "Jun"]),
        (at(10, 5, 2025), at(6, 20), ["Nov", "2026", "Mar", "May"]),
        (at(3, 1, 2023), at(6, 20), ["2024", "2025", "2026"]),
    ],
)
def test_ticks_are_round_and_few(start, end, labels):
    found = TimeAxis(start, end).ticks()
    assert sorted(t.label for t in found) == sorted(labels)


def test_ticks_lie_at_local_midnight_across_a_clock_change():
    # Clocks go forward on 29 March 2026 there; every tick stays on a day's first moment.
    axis = TimeAxis(at(3, 27), at(3, 31))
    days = [axis.start + dt.timedelta(days=n) for n in range(5)]
    assert sorted(t.at for t in axis.ticks()) == [axis.percent(d) for d in days]


@pytest.mark.parametrize("span_days", [1, 9, 40, 400, 4000, 40000])
def test_no_span_has_more_ticks_than_asked_for(span_days):
    start = at(1, 15, 1950)
    axis = TimeAxis(start, start + dt.timedelta(days=span_days))
    assert 1 <= len(axis.ticks(most=5)) <= 5


def test_zero_lies_at_the_foot_and_the_top_at_the_top():
    assert (HUNDRED.y(0), HUNDRED.y(100), HUNDRED.y(500)) == (50.0, 0.0, 0.0)


@pytest.mark.parametrize(("span", "step"), [(330, 100), (4, 1), (0.7, 0.2), (1800, 500)])
def test_steps_of_an_axis_are_round(span, step):
    assert round_step(span, most=4) == pytest.approx(step)


@pytest.mark.parametrize("largest", [0.0, 0.3, 7, 99.9, 100, 101, 2417])
def test_value_axis_holds_its_largest_value(largest):
    axis = value_axis(largest, height=100)
    assert axis.top >= largest and len(axis.ticks()) <= 5


def test_value_axis_begins_near_its_smallest_value():
    axis = value_axis(78, height=100, smallest=59)
    assert (axis.foot, axis.top) == (55, 80)
    assert (axis.y(55), axis.y(80)) == (100, 0)
    assert min(float(tick.label) for tick in axis.ticks()) >= 55


def test_step_line_rises_between_neighbours():
    steps = [Step(at(5, 1), at(5, 6), 50, 50), Step(at(5, 6), at(5, 11), 100, 100)]
    assert step_path(steps, time=TEN_DAYS, value=HUNDRED) == "M0 25H500V0H1000"


def test_gap_lifts_the_pen():
    steps = [Step(at(5, 1), at(5, 3), 50, 50), Step(at(5, 6), at(5, 11), 50, 50)]
    assert step_path(steps, time=TEN_DAYS, value=HUNDRED).count("M") == 2


def test_manners_are_drawn_apart_and_joined():
    steps = [
        Step(at(5, 1), at(5, 6), 50, 50, "broken"),
        Step(at(5, 6), at(5, 11), 100, 100, "plain"),
    ]
    paths = kind_paths(steps, time=TEN_DAYS, value=HUNDRED)
    assert paths == {"broken": "M0 25H500", "plain": "M500 25V0M500 0H1000"}


def test_band_is_closed_over_each_stretch():
    path = band_path([Step(at(5, 1), at(5, 11), 20, 80)], time=TEN_DAYS, value=HUNDRED)
    assert path == "M0 10H1000V40H0Z"


@pytest.mark.parametrize(("at", "anchor"), [(94.0, "middle"), (94.1, "end"), (100.0, "end")])
def test_a_label_at_the_right_end_lies_before_its_tick(at, anchor):
    assert Tick(at, "23 Dec").anchor == anchor
