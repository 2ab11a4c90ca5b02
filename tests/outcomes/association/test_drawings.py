"""Curve, lag strip and calendar: where the marks go."""

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone

from apps.drawing.response_curve import BOTTOM, LEFT, RIGHT, TOP, draw_curve, draw_lags
from apps.outcomes.association.calendar import event_timeline, tank_calendar
from apps.outcomes.association.correlation import tank_outcomes
from apps.outcomes.association.event_list import event_stretch
from apps.photics.causes.association import Lag
from apps.photics.causes.response_curves import dose_response
from tests.factories import make_coral, make_light_change, make_note, make_survey, make_water_event

NOW = timezone.now()


@pytest.fixture
def response():
    dose = np.tile([0.0, 0.0, 1.0, -1.0], 50)
    return dose_response(dose, (dose > 0) & (np.arange(200) % 3 == 0), np.repeat("sps", 200))


def test_curve_keeps_to_its_box(response):
    curve = draw_curve(response)
    for mark in curve.marks:
        assert LEFT < mark.x < RIGHT and TOP <= mark.high <= mark.y <= mark.low <= BOTTOM


def test_brighter_stands_right_and_riskier_stands_up(response):
    first, *_, last = draw_curve(response).marks
    assert first.x < last.x and first.y > last.y


def test_no_curve_of_no_data():
    assert draw_curve(None) is None and draw_lags(()) is None


def test_lag_without_an_end_reaches_the_edge():
    strip = draw_lags((Lag(0, 2.0, float("nan"), 1e9, 0.9), Lag(1, 1.0, 0.5, 2.0, 0.1)))
    assert (strip.marks[0].low, strip.marks[0].high) == (LEFT, RIGHT)
    assert strip.marks[1].x == pytest.approx((LEFT + RIGHT) / 2)


@pytest.fixture
def paled(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=150))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=30), summary="Raised it")
    make_water_event(tank, happened_at=NOW - dt.timedelta(days=22))
    return make_note(make_coral(tank), noted_on=tank.today() - dt.timedelta(days=20))


def test_calendar_shows_events_beside_changes_and_mishaps(paled):
    outcomes = tank_outcomes(paled.coral.tank)
    axis = event_stretch(outcomes.book, outcomes.events, {}, now=NOW).axis
    calendar = tank_calendar(outcomes.book, outcomes.events, outcomes.competing_causes, axis)
    assert [row.kind for row in calendar.rows] == ["note-paling", "light", "water"]
    places = [row.marks[0].at for row in calendar.rows]
    # First the light, then the water, then the coral.
    assert places[1] < places[2] < places[0]


def test_event_timeline_shows_the_light_of_the_weeks_around(paled):
    outcomes = tank_outcomes(paled.coral.tank)
    coral, event = outcomes.book.corals[0], outcomes.events[0]
    timeline = event_timeline(outcomes.book, coral, event, now=NOW)
    assert timeline.light and len(timeline.steps) == 2
    assert timeline.axis.end <= NOW
